"""What the team's doors show: all there is in the trail, as it is now."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Mapping, Sequence
from datetime import date
from typing import Any

import numpy as np
import pandas as pd
from fastapi import Request
from numpy.typing import NDArray

from layers.errors import NotKnown
from layers.nesting import attempt_columns as c
from layers.nesting.dating import fates_on, stages_on
from layers.nesting.nests import begun, nests
from layers.publishing.identifiers import Identifiers
from layers.trail.exporting.collection import (
    MINUTES_A_DAY,
    TRAIL_ID,
    Collection,
    Pick,
    Row,
    Source,
    days_held,
    in_memory,
    pick_by,
    pick_by_code,
)
from layers.trail.field import Geometry, Table, column
from layers.trail.map_schema import BOXES, PATHS, PLACES, ZONES
from layers.trail.schema import VISITS
from layers.trail.visits import UNKNOWN
from layers.trail.words import FATES, STAGES, YES_NO
from server.boxes.view import box_states
from server.live.contents import Contents
from server.live.trail import LiveTrail

STATE_FIELDS = (
    column("occupancy", "line", "box use on the requested day"),
    column("species", "line", "species of the latest nest of the season"),
    column("fate", "line", "how that nest ended, or ongoing"),
    column("days_since_visit", "whole", "days since the last visit of the season", unit="days"),
    column("overdue", "line", "yes where the box waits longer for a visit than the trail allows"),
)
NEST_FIELDS = (
    column("nest", "uuid", "lasting identifier, unique among all trails"),
    column("box", "line", "id of the box"),
    column("attempt", "whole", "number of the attempt in its box and season, from 1"),
    column("season", "whole", "year the season begins in"),
    column("species", "line", "common name as in the guide"),
    column("first_seen", "day", "day of the first visit that found it"),
    column("last_seen", "day", "day of the last visit that found it alive"),
    column("stage", "line", "building, laying, incubating, nestlings, over"),
    column("eggs_max", "whole", "most eggs counted"),
    column("young_max", "whole", "most living young counted"),
    column("young_fledged", "whole", "young that fledged, where known"),
    column("fate", "line", ", ".join(FATES)),
    column("cause", "line", "why it failed"),
    column("reasons", "line", "why it is read so, in sentences"),
)

_NEST_ID = re.compile(r"(?P<box>.+)-(?P<season>\d{4})-(?P<number>\d{1,4})", re.ASCII | re.DOTALL)

Rows = Callable[[str, Sequence[Any]], list[tuple[Any, ...]]]


class TeamSource:
    """The trail's own collections at one version, looked at on a day.

    Parameters
    ----------
    rows
        Gives the rows of an SQL query on the trail file.
    identifiers
        What the trail and its nests are called.
    """

    def __init__(
        self, contents: Contents, *, on: date, rows: Rows, identifiers: Identifiers
    ) -> None:
        self._contents = contents
        self._on = on
        self._rows = rows
        self._identifiers = identifiers
        self._makers = {
            "boxes": self._boxes,
            "paths": lambda: self._drawn(PATHS, "LINESTRING"),
            "places": lambda: self._drawn(PLACES, "POINT"),
            "zones": lambda: self._drawn(ZONES, "POLYGON"),
            "visits": self._visits,
            "nests": self._nests,
        }
        self.names = tuple(self._makers)
        self.title = contents.settings.name
        self.statement = (
            "For the trail's own team: exact places, names of observers and nests in use are "
            "shown. Nothing was generalised or withheld."
        )
        self.licence = None
        zone = column("timezone", "line", "time zone of the trail: days and hours are those there")
        self.of_trail = ((TRAIL_ID, identifiers.trail), (zone, contents.settings.timezone))
        self.about: dict[str, Any] = {}

    def collection(self, name: str) -> Collection:
        if name not in self._makers:
            raise NotKnown(f"Expected one of {', '.join(self.names)}, got {name!r}")
        return self._contents.once(("given", name, self._on), self._makers[name])

    def _boxes(self) -> Collection:
        frame = self._contents.ground.boxes
        states = pd.DataFrame(
            box_states(self._contents, self._on),
            columns=[column.name for column in STATE_FIELDS],
            dtype=object,
        )
        states["overdue"] = [YES_NO[bool(late)] for late in states["overdue"]]
        since, until = days_held(frame["installed_on"].tolist(), frame["removed_on"].tolist())
        fields = BOXES.fields + STATE_FIELDS
        return in_memory(
            pd.concat([pd.DataFrame(frame.drop(columns="geometry")), states], axis=1),
            name="boxes",
            title="Boxes",
            note=f"{BOXES.note} What each is on {self._on.isoformat()} is beside it.",
            geometry="POINT",
            fields=fields,
            zone=self._contents.settings.zone,
            ids=frame["box"].tolist(),
            key=("box",),
            shapes=frame.geometry.to_numpy(),
            since=since,
            until=until,
            picked=[column.name for column in fields if column.name != "note"],
        )

    def _drawn(self, table: Table, geometry: Geometry) -> Collection:
        frame = getattr(self._contents.ground, table.name)
        return in_memory(
            frame,
            name=table.name,
            title=table.name.capitalize(),
            note=table.note,
            geometry=geometry,
            fields=table.fields,
            zone=self._contents.settings.zone,
            ids=frame["fid"].tolist(),
            shapes=frame.geometry.to_numpy(),
            picked=table.columns,
        )

    def _box_places(self, codes: NDArray[Any]) -> NDArray[np.int64]:
        """The position in the ground's boxes of each box code; -1 for a box not in it."""
        return np.where(codes < len(self._contents.ground.boxes), codes, -1).astype(np.int64)

    def _visits(self) -> Collection:
        visits = self._contents.histories.visits
        # In the order of entry, so that a visit saved meanwhile comes last.
        order = np.argsort(visits.row, kind="stable")
        row, day, minute = visits.row[order], visits.day[order], visits.minute[order]
        midnight = day.astype(np.int64) * MINUTES_A_DAY
        known = minute >= 0
        points = self._contents.ground.boxes.geometry.to_numpy()
        place = self._box_places(visits.box)[order]
        columns = ", ".join(VISITS.columns)

        def read(positions: NDArray[np.int64]) -> list[Row]:
            found = self._rows(
                f"SELECT {columns} FROM visits WHERE fid IN (SELECT value FROM json_each(?))"
                " ORDER BY fid",
                (json.dumps(row[positions].tolist()),),
            )
            return [
                Row(cells[0], dict(zip(VISITS.columns, cells, strict=True)), _at(points, at))
                for cells, at in zip(found, place[positions].tolist(), strict=True)
            ]

        def find(visit_id: str) -> int | None:
            found = self._rows("SELECT fid FROM visits WHERE visit_id = ?", (visit_id,))
            if not found:
                return None
            at = int(np.searchsorted(row, found[0][0]))
            return at if at < len(row) and row[at] == found[0][0] else None

        coded: dict[str, Sequence[str]] = {
            "box": visits.boxes,
            "species": visits.species_names,
            "observer": visits.observers,
            **{f.name: f.words for f in VISITS.fields if f.kind in ("word", "yes or no")},
        }
        counted = [f.name for f in VISITS.fields if f.kind in ("whole", "number")]

        def by_word(name: str, words: Sequence[str]) -> Pick:
            # A row that withdraws a visit is left out, like the visit.
            held = name != "withdraws"
            codes = visits.column(name) if held else np.full(len(visits.row), UNKNOWN)
            return lambda text: pick_by_code(codes, words)(text)[order]

        def by_number(name: str) -> Pick:
            values = visits.column(name)
            # A measure that was not recorded is NaN, which equals nothing.
            known = (values != UNKNOWN) | np.issubdtype(values.dtype, np.floating)
            return lambda text: (pick_by(values, "REAL", name)(text) & known)[order]

        return Collection(
            name="visits",
            title="Visits",
            note="One look at one box, at the box's place. Corrected rows are left out.",
            geometry="POINT",
            fields=VISITS.fields,
            zone=self._contents.settings.zone,
            shapes=points,
            place=place,
            read=read,
            find=find,
            key=("visit_id",),
            since=midnight + np.where(known, minute, 0),
            until=midnight + np.where(known, minute, MINUTES_A_DAY - 1),
            picks={name: by_word(name, words) for name, words in coded.items()}
            | {name: by_number(name) for name in counted},
        )

    def _nests(self) -> Collection:
        contents, on = self._contents.known_on(self._on), self._on
        histories, dates = contents.histories, contents.dates()
        stages, fates = stages_on(histories, dates, on), fates_on(histories, dates, on)
        attempts = np.arange(len(histories))
        rows = histories.rows[attempts]
        points = self._contents.ground.boxes.geometry.to_numpy()
        place = self._box_places(rows[:, c.BOX])
        names = histories.visits.boxes

        def read(positions: NDArray[np.int64]) -> list[Row]:
            wanted = attempts[positions].tolist()
            named = self._identifiers.nests(histories, among=positions)
            record: dict[int, dict[str, Any]] = {}
            for code in np.unique(rows[positions, c.BOX]).tolist():
                box = names[code]
                record |= zip(
                    begun(histories, on=on, box=box),
                    nests(histories, dates, on=on, box=box),
                    strict=True,
                )
            return [
                Row(_nest_id(record[attempt]), _nest_cells(record[attempt], name), _at(points, at))
                for attempt, at, name in zip(wanted, place[positions].tolist(), named, strict=True)
            ]

        def find(nest_id: str) -> int | None:
            record = _NEST_ID.fullmatch(nest_id)
            if record is None or record["box"] not in names:
                return None
            code = names.index(record["box"])
            numbers = histories.numbers[attempts]
            found = np.flatnonzero(
                (rows[:, c.BOX] == code)
                & (rows[:, c.SEASON] == int(record["season"]))
                & (numbers == int(record["number"]))
            )
            return int(found[0]) if len(found) else None

        return Collection(
            name="nests",
            title="Nests",
            note="One nesting attempt, at its box's place, as read from the visits.",
            geometry="POINT",
            fields=NEST_FIELDS,
            zone=self._contents.settings.zone,
            shapes=points,
            place=place,
            read=read,
            find=find,
            key=("nest",),
            since=rows[:, c.FIRST_DAY].astype(np.int64) * MINUTES_A_DAY,
            until=rows[:, c.ALIVE_DAY].astype(np.int64) * MINUTES_A_DAY + MINUTES_A_DAY - 1,
            picks={
                "box": pick_by_code(rows[:, c.BOX], names),
                "season": pick_by(rows[:, c.SEASON], "INTEGER", "season"),
                "species": pick_by_code(rows[:, c.SPECIES], histories.visits.species_names),
                "stage": pick_by_code(stages[attempts], STAGES),
                "fate": pick_by_code(fates[attempts], FATES),
            },
        )


def _at(points: NDArray[Any], place: int) -> Any:
    return points[place] if place >= 0 else None


def _nest_id(nest: dict[str, Any]) -> str:
    return f"{nest['box']}-{nest['season']}-{nest['attempt']}"


def _nest_cells(nest: dict[str, Any], name: str) -> dict[str, Any]:
    values = {**nest, "nest": name, "reasons": " ".join(nest["reasons"])}
    return {column.name: values[column.name] for column in NEST_FIELDS}


def team_source(request: Request) -> Source:
    """The collections of the trail that the app serves, as it is now."""
    live: LiveTrail = request.app.state.live

    def rows(sql: str, values: Sequence[Any]) -> list[tuple[Any, ...]]:
        with live.borrowed() as trail:
            return trail.rows(sql, values)

    def first_entries(visits: Sequence[int]) -> Mapping[int, str]:
        with live.borrowed() as trail:
            return trail.first_entries(visits)

    with live.borrowed() as trail:
        identifiers = Identifiers(trail.identity(), first_entries)
    return TeamSource(live.contents(), on=live.today(), rows=rows, identifiers=identifiers)
