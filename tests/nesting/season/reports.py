"""Reports of seasons written down by hand: nests that fledged, were lost, or nobody knows."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import chain
from typing import Any
from zoneinfo import ZoneInfo

import pandas as pd

from data_demo.demo import make_demo
from layers.nesting.dating import date_attempts
from layers.nesting.guide import standard_guide
from layers.nesting.histories import Histories, read_histories
from layers.nesting.season.report import SeasonReport, passages, report_record, season_report
from layers.nesting.timeline import Service, timeline
from layers.trail.coding import code_visits
from layers.trail.settings import Settings
from layers.trail.words import ACTIONS, SIGNS

Visit = dict[str, Any]

SETTINGS = Settings("Alderbeck Reserve", "America/New_York")
SPECIES = "eastern bluebird"

_COLUMNS = {
    "section": "Mill Wood",
    "habitat": "wood",
    "guards": None,
    "mount": "tree",
    "hole_mm": 38.0,
    "height_m": 1.6,
    "facing_deg": 90.0,
    "installed_on": None,
    "removed_on": None,
}


def looks(box: str, *found: tuple[str, dict[str, Any]], year: int = 2026) -> list[Visit]:
    """Visits to a box as (`MM-DD`, what was found)."""
    visits = []
    for day, given in found:
        on = dt.date.fromisoformat(f"{year}-{day}")
        visits.append(
            {
                "box": box,
                "seen_on": on,
                "entered_at": dt.datetime.combine(on, dt.time(20), dt.UTC),
                "visit_id": f"{box} {on}",
                "opened": "yes",
                **given,
            }
        )
    return visits


def fledged(box: str, *, species: str = SPECIES, year: int = 2026, young: int = 4) -> list[Visit]:
    own = {"species": species}
    return looks(
        box,
        ("04-13", {"nest": "lined cup", **own}),
        ("04-20", {"eggs": 2, **own}),
        ("04-27", {"eggs": 5, "eggs_warm": "yes", **own}),
        ("05-10", {"young": young, "young_days": 3, **own}),
        ("05-17", {"young": young, "young_days": 10, **own}),
        ("05-22", {"young": young, "young_days": 15, **own}),
        ("05-29", {"young": 0, "eggs": 0, "signs": "flattened;droppings", **own}),
        year=year,
    )


def lost(box: str, *, species: str = SPECIES, year: int = 2026) -> list[Visit]:
    own = {"species": species}
    return looks(
        box,
        ("04-20", {"eggs": 2, **own}),
        ("04-27", {"eggs": 5, "eggs_warm": "yes", **own}),
        ("05-04", {"eggs": 0, "signs": "broken eggs;nest torn", **own}),
        year=year,
    )


def not_known(box: str, *, species: str = SPECIES, year: int = 2026) -> list[Visit]:
    """Eggs, and nobody looked again."""
    own = {"species": species}
    return looks(box, ("04-20", {"eggs": 2, **own}), ("04-27", {"eggs": 5, **own}), year=year)


def empty(box: str, *, year: int = 2026) -> list[Visit]:
    return looks(box, ("04-20", {"nest": "none"}), ("05-20", {"nest": "none"}), year=year)


def box_frame(boxes: Sequence[str], **columns: Sequence[Any]) -> pd.DataFrame:
    """Boxes alike but for the columns given."""
    values = {name: [value] * len(boxes) for name, value in _COLUMNS.items()}
    frame = pd.DataFrame({"box": list(boxes), **values, **columns}, dtype=object)
    # As `Trail.boxes()` gives them: missing text is None, missing numbers are NaN.
    numbers = ["hole_mm", "height_m", "facing_deg"]
    return frame.astype(dict.fromkeys(numbers, float))


def histories_of(visits: Sequence[Visit], boxes: Sequence[str]) -> Histories:
    coded = code_visits(
        visits,
        boxes=list(boxes),
        timezone=ZoneInfo(SETTINGS.timezone),
        signs_words=SIGNS,
        actions_words=ACTIONS,
    )
    return read_histories(coded, standard_guide(), season_starts="01-01")


def report_of(
    *stories: Iterable[Visit],
    boxes: Sequence[str] = ("A1", "A2", "A3"),
    frame: pd.DataFrame | None = None,
    season: int = 2026,
    on: dt.date = dt.date(2027, 1, 15),
    **asked: Any,
) -> SeasonReport:
    """The report of some stories in some boxes, told after the season unless asked."""
    histories = histories_of(list(chain(*stories)), boxes)
    return season_report(
        histories,
        date_attempts(histories),
        season=season,
        on=on,
        boxes=box_frame(boxes) if frame is None else frame,
        service=Service.always(len(boxes)),
        timeline=timeline(histories, date_attempts(histories), season=season, on=on),
        settings=SETTINGS,
        **asked,
    )


def demo_report(**asked: Any) -> SeasonReport:
    """Of the demo trail's boxes and visits."""
    demo = make_demo()
    frame = pd.DataFrame(demo.reserve.boxes).sort_values("box", ignore_index=True)
    return report_of(
        demo.visits(), boxes=list(frame["box"]), frame=frame, **{"on": dt.date(2026, 9, 1), **asked}
    )


def several(
    kind: Callable[..., list[Visit]], boxes: Sequence[str], **given: Any
) -> Iterator[Visit]:
    """The same story in several boxes."""
    return chain.from_iterable(kind(box, **given) for box in boxes)


def texts(report: SeasonReport, name: str | None = None) -> str:
    return " ".join(
        one.text
        for passage in passages(report)
        if name in (None, passage.name)
        for one in passage.sentences
    )


def record(report: SeasonReport) -> dict[str, Any]:
    """As a program reads it; NaN and infinity would be no JSON."""
    read: dict[str, Any] = json.loads(json.dumps(report_record(report), allow_nan=False))
    return read
