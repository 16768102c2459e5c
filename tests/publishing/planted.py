"""A made trail with secrets in every column, in memory and as a file."""

from __future__ import annotations

import datetime as dt
import random
import uuid
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import geopandas as gpd
import numpy as np
import shapely
from numpy.typing import NDArray

from data_demo.observers import OBSERVERS
from data_demo.simulate import deal_cases, simulate_season
from layers.nesting.guide import standard_guide
from layers.nesting.histories import Histories, read_histories
from layers.publishing import PublicView, public_view
from layers.publishing.identifiers import Identifiers
from layers.trail.coding import code_visits
from layers.trail.identity import Identity
from layers.trail.public_rules import PublicRules
from layers.trail.schema import TABLES
from layers.trail.settings import Settings
from layers.trail.store import Trail
from layers.trail.visits import Visits
from layers.trail.words import ACTIONS, SIGNS

NAME = "Alderbeck Reserve"
ZONE = "America/New_York"
WEST, SOUTH = -77.9412, 42.5837
"""The corner of the made trail; a place like the invented reserve's."""

WORDS = ("shown", "coarse", "hidden", None)
NOTE = "under the third larch past Wilhelmina's gate"
PERSON = "Wilhelmina Oakapple"
BOX_NAME = "Larch Corner box"


def _by_row(rows: Sequence[int]) -> dict[int, str]:
    return {row: f"visit {row}" for row in rows}


IDENTITY = Identity(uuid.UUID(int=1), uuid.UUID(int=2))
IDENTIFIERS = Identifiers(IDENTITY, _by_row)


@dataclass(frozen=True)
class Planted:
    """A trail in memory, and the rows that it is made of."""

    box_rows: tuple[dict[str, Any], ...]
    visit_rows: tuple[dict[str, Any], ...]
    boxes: gpd.GeoDataFrame
    ground: Mapping[str, gpd.GeoDataFrame]
    histories: Histories

    def view(
        self,
        on: dt.date,
        rules: PublicRules | None = None,
        *,
        boxes: gpd.GeoDataFrame | None = None,
        visits: Visits | None = None,
        before: PublicView | None = None,
    ) -> PublicView:
        """The public view, perhaps of other boxes or visits."""
        histories = self.histories
        if visits is not None:
            histories = read_histories(visits, histories.guide, season_starts="01-01")
        return public_view(
            self.boxes if boxes is None else boxes,
            histories,
            **self.ground,
            settings=settings(rules),
            on=on,
            identifiers=IDENTIFIERS,
            before=before,
        )

    def without(self, gone: NDArray[Any]) -> Visits:
        """The visits but for those of a mask."""
        return self.histories.visits.take(~gone)

    def marked(self, words: Sequence[str | None]) -> gpd.GeoDataFrame:
        """The boxes, shown in these ways."""
        return self.boxes.assign(public=np.array(words, dtype=object))


def settings(rules: PublicRules | None = None) -> Settings:
    return Settings(name=NAME, timezone=ZONE, public_rules=rules or PublicRules())


def frame(name: str, rows: Sequence[Mapping[str, Any]]) -> gpd.GeoDataFrame:
    """Rows as `Trail` gives them."""
    columns = {
        column: np.array([row.get(column) for row in rows], dtype=object)
        for column in TABLES[name].columns
    }
    return gpd.GeoDataFrame(columns, geometry=[row["geometry"] for row in rows], crs=4326)


def _box(number: int, dice: random.Random) -> dict[str, Any]:
    return {
        "box": f"Zq{number:03d}",
        "name": f"{BOX_NAME} {number}",
        "section": "Oakapple's ride",
        "public": dice.choices(WORDS, (6, 2, 2, 1))[0],
        "note": NOTE,
        "installed_on": "2020-01-01",
        # Six decimals that end in no zero, so that a rounded one is another number.
        "geometry": shapely.Point(
            round(WEST + dice.uniform(0, 0.06), 5) + 0.000003,
            round(SOUTH + dice.uniform(0, 0.05), 5) + 0.000007,
        ),
    }


@cache
def planted(boxes: int = 40) -> Planted:
    """A trail of two seasons, the last 2026; the same at every call."""
    dice = random.Random(boxes)
    box_rows = [_box(number, dice) for number in range(boxes)]
    ids = [row["box"] for row in box_rows]
    visits: list[dict[str, Any]] = []
    for year in (2025, 2026):
        cases = deal_cases(ids, seed=year, share=0.3)
        visits += simulate_season(ids, year=year, seed=year, cases=cases).visits
    renamed = {watcher.name: f"{PERSON} {i}" for i, watcher in enumerate(OBSERVERS)}
    rows = [
        row | {"note": NOTE, "observer": renamed.get(row["observer"] or "", PERSON)}
        for row in visits
    ]
    coded = code_visits(
        rows, boxes=ids, timezone=ZoneInfo(ZONE), signs_words=SIGNS, actions_words=ACTIONS
    )
    histories = read_histories(coded, standard_guide(), season_starts="01-01")
    return Planted(
        tuple(box_rows),
        tuple(rows),
        frame("boxes", box_rows),
        {name: frame(name, rows) for name, rows in GROUND.items()},
        histories,
    )


def _near(lon: float, lat: float) -> tuple[float, float]:
    return WEST + lon, SOUTH + lat


GROUND: Mapping[str, list[dict[str, Any]]] = {
    "paths": [
        {
            "name": name,
            "kind": "path",
            "open_to": open_to,
            "geometry": shapely.LineString([_near(0, 0.001 * i), _near(0.05, 0.03)]),
        }
        for i, (name, open_to) in enumerate(
            (("Mill lane", "all"), ("Keepers' way", "team"), ("Old drive", "closed"), ("x", None))
        )
    ],
    "places": [
        {"name": name, "kind": kind, "geometry": shapely.Point(*_near(0.01, 0.01))}
        for name, kind in (("Gate", "start"), ("Wasps", "hazard"), ("Tower", "landmark"))
    ],
    "zones": [
        {
            "name": name,
            "kind": kind,
            "detail": "owl nest in June",
            "geometry": shapely.box(*_near(0, 0), *_near(0.02, 0.02)),
        }
        for name, kind in (("Meadow", "habitat"), ("Owl wood", "keep_out"), ("Pond", "water"))
    ],
}


def write(path: Path, trail: Planted, rules: PublicRules | None = None) -> Path:
    """The trail as a file."""
    with Trail.create(path, settings(rules)) as made:
        made.add_rows("boxes", trail.box_rows)
        for name, rows in GROUND.items():
            made.add_rows(name, rows)
        made.add_rows("visits", trail.visit_rows)
    return path


def moved(boxes: gpd.GeoDataFrame, move: Callable[[shapely.Point], shapely.Point]) -> Any:
    return boxes.assign(geometry=[move(point) for point in boxes.geometry])


def watched_by(visits: Visits, name: str) -> Visits:
    """The same visits, all made by one person at unknown times."""
    return replace(
        visits,
        observers=(name,),
        observer=np.zeros(len(visits), np.int32),
        entered_s=np.zeros(len(visits), np.int64),
    )
