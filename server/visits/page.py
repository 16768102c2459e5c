"""The form that records a visit; works without JavaScript."""

from __future__ import annotations

import uuid
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Annotated, Any
from urllib.parse import quote

from fastapi import APIRouter, Query, Request, Response
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData
from starlette.responses import HTMLResponse, RedirectResponse

from layers.errors import BadValue, CallerError, Fault, Refused, TrailBusy
from layers.maps.key_drawing import key_drawing
from layers.nesting.card import inside
from layers.nesting.cautions import ALWAYS, LAW, sign_cautions
from layers.nesting.due import OPEN, due_of_box
from layers.nesting.guide import Guide
from layers.nesting.key import ADULTS, FORMS, GROUNDS, MARKS, MATERIALS, Identification
from layers.nesting.questions import Question
from layers.trail.field import Field
from layers.trail.schema import VISITS
from layers.trail.settings import Settings
from server.identify.view import read_eggs, read_length_mm, who_it_may_be
from server.live.contents import Contents
from server.live.days import read_day
from server.live.trail import LiveTrail
from server.visits.recording import questions_about, record_in_turn
from server.visits.withdrawing import withdrawn_visit
from server.web.authentication.author import Writing
from server.web.authentication.roles import WALKER, Who
from server.web.problems import RETRY_AFTER_S, STATUS
from server.web.queries import Parameters
from server.web.responses import Live, rendered_for

router = APIRouter(include_in_schema=False)

FIELDS = tuple(field for field in VISITS.fields if not field.automatic and field.name != "box")
"""What the form holds, by `entry_name`."""

_OWN_PLACE = {"seen_on", "seen_at", "observer", "species", "note"}
_BEFORE_SPECIES = ("adult", "opened", "nest")
"""What one sees first; all else that the schema declares follows the species by itself."""

_NAMES = ("visit_id", "confirmed", *(field.entry_name for field in FIELDS))
# The form is short enough for this; more is not a form of ours.
_MOST_FIELDS = 200


MAX_CANDIDATES = 6
"""Species of the key that the form shows."""

_ASK, _CHOOSE = "ask", "choose"
"""Names of the buttons that use the key, and that take one of its species."""


class AboutForm(Parameters):
    replaces: str | None = None
    who: str | None = None


@dataclass(frozen=True)
class KeyPart:
    """The part of the form that helps to identify the species; `answer` once it was requested."""

    shown: bool = False
    materials: tuple[str, ...] = ()
    form: str = ""
    adult: str = ""
    ground: str = ""
    marks: str = ""
    egg_length_mm: str = ""
    answer: Identification | None = None
    fault: str | None = None

    material_words = tuple(MATERIALS)
    form_words = tuple(FORMS)
    adult_words = tuple(ADULTS)
    ground_words = tuple(GROUNDS)
    mark_words = tuple(MARKS)


def _questions(settings: Settings) -> dict[str, list[Field]]:
    """The fields without a place of their own: before the species, numbers, and all others."""

    def with_words(field: Field) -> Field:
        if field.kind == "yes or no":
            return replace(field, words=field.words[::-1])
        return replace(field, words=settings.words(field.name)) if field.extendable else field

    query = [with_words(field) for field in FIELDS if field.name not in _OWN_PLACE]
    later = [field for field in query if field.name not in _BEFORE_SPECIES]
    return {
        "first": [field for name in _BEFORE_SPECIES for field in query if field.name == name],
        "numbers": [field for field in later if field.kind in ("whole", "number")],
        "others": [field for field in later if field.kind not in ("whole", "number")],
    }


@router.get("/boxes/{box:path}/visit")
def empty_form(
    request: Request, live: Live, by: Who, box: str, query: Annotated[AboutForm, Query()]
) -> Response:
    """The form, empty or filled with the visit to correct."""
    values = dict.fromkeys(_NAMES, "")
    values |= {"visit_id": str(uuid.uuid4()), "date": live.today().isoformat()}
    values |= {"observer": by.name}
    if query.replaces is not None:
        with live.borrowed() as trail:
            wrong, settings = withdrawn_visit(trail, query.replaces), trail.settings()
        values |= {one.entry_name: _shown(wrong.get(one.name)) for one in FIELDS}
        values |= {"date": wrong["seen_on"], "time": _local_time(wrong, settings)}
    key = KeyPart(shown=query.who is not None)
    return _page(request, live, box, values=values, replaces=query.replaces, key=key)


@router.post("/boxes/{box:path}/visit", dependencies=[WALKER])
async def send_form(request: Request, live: Live, author: Writing, box: str) -> Response:
    """Save the visit and show the box, or show the form again with what is wrong."""
    form = await request.form(max_fields=_MOST_FIELDS, max_files=0)
    sent: dict[str, str] = dict.fromkeys(_NAMES, "")
    for name in (*_NAMES, "replaces"):
        sent[name] = ";".join(str(value) for value in form.getlist(name))
    replaces = sent.pop("replaces") or None
    key = _key_part(form)
    if _ASK in form or _CHOOSE in form:
        sent["species"] = str(form.get(_CHOOSE, sent["species"]))
        return await run_in_threadpool(
            _identified, request, live, box, sent=sent, replaces=replaces, key=key
        )
    raw = {name: text for name, text in sent.items() if text.strip()} | {"box": box}
    if replaces is not None:
        raw["replaces"] = replaces
    found = await run_in_threadpool(questions_about, live, raw)
    shown_before = str(form.get("shown", "")).split(";")
    if any(one.kind not in shown_before for one in found):
        return await run_in_threadpool(
            _page, request, live, box, values=sent, replaces=replaces, key=key, odd=found
        )
    faults: Sequence[Fault] = ()
    refused: str | None = None
    try:
        await record_in_turn(live, raw, author=author)
        return RedirectResponse(f"/boxes/{quote(box, safe='')}?saved=yes", 303)
    except Refused as error:
        faults, status = error.faults, STATUS[Refused]
    except (CallerError, TrailBusy) as error:
        refused, status = str(error), STATUS[type(error)]
    page = await run_in_threadpool(
        _page,
        request,
        live,
        box,
        values=sent,
        replaces=replaces,
        key=key,
        faults=faults,
        refused=refused,
    )
    page.status_code = status
    if refused is not None and status == STATUS[TrailBusy]:
        page.headers["Retry-After"] = str(RETRY_AFTER_S)
    return page


def _key_part(form: FormData) -> KeyPart:
    return KeyPart(
        shown=any(name.startswith("key_") and value for name, value in form.multi_items()),
        materials=tuple(str(word) for word in form.getlist("key_material")),
        form=str(form.get("key_form", "")),
        adult=str(form.get("key_adult", "")),
        ground=str(form.get("key_ground", "")),
        marks=str(form.get("key_marks", "")),
        egg_length_mm=str(form.get("key_egg_length_mm", "")),
    )


def _identified(
    request: Request,
    live: LiveTrail,
    box: str,
    *,
    sent: Mapping[str, str],
    replaces: str | None,
    key: KeyPart,
) -> Response:
    """The form again, with all that was typed and with what the key gives."""
    try:
        answer = who_it_may_be(
            live.contents(),
            on=_day_of(sent) or live.today(),
            materials=key.materials,
            form=key.form or None,
            adult=key.adult or None,
            box=box,
            ground=key.ground or None,
            marks=key.marks or None,
            eggs=read_eggs(sent["eggs"]),
            egg_length_mm=read_length_mm(key.egg_length_mm),
        )
        key = replace(key, shown=True, answer=answer)
    except BadValue as error:
        key = replace(key, shown=True, fault=str(error))
    return _page(request, live, box, values=sent, replaces=replaces, key=key)


def _day_of(sent: Mapping[str, str]) -> date | None:
    try:
        return read_day(sent["date"])
    except ValueError:
        return None


def _page(
    request: Request,
    live: LiveTrail,
    box: str,
    *,
    values: Mapping[str, str],
    replaces: str | None,
    key: KeyPart,
    faults: Sequence[Fault] = (),
    odd: Sequence[Question] = (),
    refused: str | None = None,
) -> HTMLResponse:
    contents, rows = live.consistent(lambda trail: trail.visit_rows(box))
    contents.ground.row(box)
    by_name: defaultdict[str, list[Fault]] = defaultdict(list)
    for fault in faults:
        by_name[fault.column or ""].append(fault)
    today = live.today()
    seen = [row for row in rows if row["seen_on"] <= today.isoformat()]
    last = {"date": seen[-1]["seen_on"], "inside": inside(seen[-1])} if seen else None
    groups = _species_groups(contents)
    due = due_of_box(
        contents.histories, box, on=today, settings=contents.settings, dates=contents.dates()
    )
    may_open = due.approach == OPEN
    page = rendered_for(
        request,
        "visit.html",
        max_candidates=MAX_CANDIDATES,
        withdrawal_id=str(uuid.uuid4()),
        trail=contents.settings,
        today=today,
        box=box,
        replaces=replaces,
        values=values,
        last=last,
        faults=by_name,
        faults_in_all=faults,
        odd=odd,
        refused=refused,
        labels={field.entry_name: field.label for field in FIELDS},
        questions=_questions(contents.settings),
        species={name for _, names in groups for name in names},
        species_groups=groups,
        key=key,
        drawings=_drawings(contents.guide, key.answer),
        due=due,
        may_open=may_open,
        cautions=sign_cautions(contents.histories, box, on=today) if may_open else (),
        always=ALWAYS if may_open else (LAW,),
    )
    return HTMLResponse(page, headers={"Cache-Control": "no-store"})


def _drawings(guide: Guide, answer: Identification | None) -> dict[str, str]:
    """The nest and eggs of each species that the key names, as SVG."""
    candidates = () if answer is None else answer.candidates[:MAX_CANDIDATES]
    return {one.species: key_drawing(guide.find(one.species)) for one in candidates}


def _species_groups(contents: Contents) -> list[tuple[str, list[str]]]:
    """Species met on this trail first, then all of the guide."""
    met = sorted(name for name in contents.histories.visits.species_names if name)
    every = [species.common for species in contents.guide.species]
    return [("Met on this trail", met), ("All in the guide", every)] if met else [("All", every)]


def _shown(value: object) -> str:
    return "" if value is None else str(value)


def _local_time(visit: Mapping[str, Any], settings: Settings) -> str:
    from_utc = visit["seen_at"]
    if from_utc is None:
        return ""
    moment = datetime.fromisoformat(from_utc).astimezone(settings.zone)
    return f"{moment:%H:%M}" if moment.date() == date.fromisoformat(visit["seen_on"]) else ""
