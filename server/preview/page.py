"""The keeper's preview: the public pages as other rules would make them, and what these give away.

Nothing is published and nothing is stored. It is never cached (`Cache-Control: no-store`).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse, Response

from layers.errors import BadValue
from layers.publishing.attack import find_boxes
from layers.publishing.view import squares_of_boxes
from layers.trail.public_rules import CELLS_DEG, LAYERS, ONGOING, PublicRules
from layers.trail.words import PUBLIC
from layers.words import format_length
from server.live.contents import Contents
from server.live.public_views import cautions_of, public_view_of
from server.public.view import public_file
from server.web.authentication.roles import KEEPER_ONLY
from server.web.responses import Live, rendered_for

router = APIRouter(include_in_schema=False, dependencies=[KEEPER_ONLY])

CHOICES: Mapping[str, tuple[str, tuple[str, ...]]] = {
    "cell": ("Size of a square", tuple(f"{size:g}" for size in CELLS_DEG)),
    "coarse_cell": ("Size of a coarse square", tuple(f"{size:g}" for size in CELLS_DEG)),
    "unmarked": ("Boxes without a mark of their own", PUBLIC),
    "ongoing": ("Nests in use", ONGOING),
    "released": ("Ground on the map", ("", *LAYERS, ";".join(LAYERS))),
}
"""Rules that can be tried: what a form calls them, and their values."""

_NO_STORE = {"Cache-Control": "no-store"}


@dataclass(frozen=True)
class Outcome:
    """What a set of rules would publish, and how close the best guess comes to the boxes."""

    title: str
    squares: str
    uncertainty: str
    error: str
    share: str
    query: str


@router.get("/open/preview")
def preview_page(request: Request, live: Live) -> Response:
    """A form of rules; what those would give away, beside others."""
    contents, refused = live.contents(), None
    rules = contents.settings.public_rules
    try:
        rules = _tried(rules, request.query_params)
    except BadValue as error:
        refused = error
    tried = _with_rules(contents, rules)
    with live.borrowed() as trail:
        cautions = cautions_of(trail, tried, live.today())
    page = rendered_for(
        request,
        "preview.html",
        trail=contents.settings,
        refused=refused,
        choices={
            name: (label, values, dict(rules.to_text())[name.replace("_", " ")])
            for name, (label, values) in CHOICES.items()
        },
        cautions=cautions,
        outcomes=list(_outcomes(contents, rules, live)),
        query=_query(rules),
    )
    return HTMLResponse(page, 200 if refused is None else 422, _NO_STORE)


@router.get("/open/preview/{name}")
def preview_file(request: Request, live: Live, name: str) -> Response:
    """One public file as the rules of the query would make it."""
    contents = live.contents()
    rules = _tried(contents.settings.public_rules, request.query_params)
    with live.borrowed() as trail:
        view = public_view_of(trail, _with_rules(contents, rules), live.today())
    body, kind = public_file(view, name)
    return Response(body, media_type=kind, headers=_NO_STORE)


def _tried(rules: PublicRules, query: Mapping[str, str]) -> PublicRules:
    if "coarse_cell" in query:
        # The other square may be no larger, and may be given too.
        finest = replace(rules, cell=min(CELLS_DEG)).with_text("coarse_cell", query["coarse_cell"])
        rules = finest.with_text("cell", query.get("cell", f"{rules.cell:g}"))
    for name in CHOICES:
        if name in query and name != "coarse_cell":
            rules = rules.with_text(name, query[name])
    return replace(rules, open="yes")


def _with_rules(contents: Contents, rules: PublicRules) -> Contents:
    return replace(contents, settings=replace(contents.settings, public_rules=rules))


def _query(rules: PublicRules) -> str:
    values = {name: getattr(rules, name) for name in CHOICES}
    return "&".join(
        f"{name}={';'.join(value) if isinstance(value, tuple) else value}"
        for name, value in values.items()
    ).replace(" ", "%20")


def _outcomes(contents: Contents, rules: PublicRules, live: Any) -> Iterator[Outcome]:
    yield _outcome("These rules", contents, rules, live)
    for size in CELLS_DEG:
        larger = replace(rules, cell=size, coarse_cell=max(size, rules.coarse_cell))
        yield _outcome(
            f"Squares of {size:g}°, all boxes shown", contents, larger, live, all_shown=True
        )
    if rules.released:
        yield _outcome("These rules, no ground", contents, replace(rules, released=()), live)


def _outcome(
    title: str, contents: Contents, rules: PublicRules, live: Any, *, all_shown: bool = False
) -> Outcome:
    tried = _with_rules(contents, rules)
    if all_shown:
        hidden = [rules.shown_as(word) is None for word in contents.ground.boxes["public"]]
        marks = ["hidden" if one else "shown" for one in hidden]
        ground = replace(contents.ground, boxes=contents.ground.boxes.assign(public=marks))
        tried = replace(tried, ground=ground)
    with live.borrowed() as trail:
        view = public_view_of(trail, tried, live.today())
    layout = squares_of_boxes(tried.ground.boxes, rules, live.today())
    names = {box: cell.name for box, cell in layout.cell_of_box.items()}
    if not view.cells or not names:
        return Outcome(title, "none", "–", "–", "–", _query(rules))
    records = {row["box"]: (row["lon"], row["lat"]) for row in tried.ground.records}
    found = find_boxes(view.cells, {box: records[box] for box in names}, names, view.paths)
    return Outcome(
        title,
        f"{len(view.cells)} of {view.cell_deg:g}°",
        format_length(max(cell.uncertainty_m for cell in view.cells)),
        f"{format_length(found.error_m)} ({found.way})",
        f"{found.error_m / found.alone_m:.0%}",
        _query(rules),
    )
