"""Reads the days that a face prints of an event, and compares them with those of `dating`."""

from __future__ import annotations

import datetime as dt
import html
import re
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from layers.nesting import attempt_columns as c
from layers.nesting.calendar import KINDS, event_id
from layers.nesting.forecast import BANDING, CLOSED, HATCHING
from layers.nesting.histories import Histories
from layers.nesting.timeline import IN_USE, OUT_OF_SERVICE
from layers.trail.coding import day_number, day_of
from layers.words import format_day, format_days
from tests.every_nest import Nest, nest_due
from tests.every_phrase import (
    AGED_DAYS,
    DAY,
    DAYS,
    HAS_A_DAY,
    MONTH,
    MONTHS,
    PHRASES,
    SIGNS_DAYS,
)
from tests.maps.unpacking import entries


@dataclass
class Compared:
    """What was read of each face, and where it differs from `dating`."""

    on: dt.date
    read: Counter[str] = field(default_factory=Counter)
    wrong: list[str] = field(default_factory=list)
    _sentences: dict[tuple[int, str], str] = field(default_factory=dict)

    def same(self, face: str, what: str, printed: object, expected: object) -> None:
        self.read[face] += 1
        if printed != expected:
            self.wrong.append(f"{face} on {self.on}, {what}: {printed}; dating has {expected}")

    def among(self, face: str, what: str, printed: Iterable[object], known: set[Any]) -> None:
        for one in printed:
            self.read[face] += 1
            if one not in known:
                self.wrong.append(f"{face} on {self.on}, {what}: {one} is no day known of it")

    def sentences(self, face: str, nest: Nest | None, box: str, texts: Iterable[str]) -> None:
        """Every day in sentences about a box: an event's, a visit's, or that of a lapse."""
        for text in texts:
            if nest is None or not HAS_A_DAY.search(text):
                continue
            self.read[face] += 1
            # Many faces print the same sentence.
            key = (id(nest), text)
            if key not in self._sentences:
                self._sentences[key] = self._misread(nest, text)
            if self._sentences[key]:
                self.wrong.append(f"{face} on {self.on}, {box}: {self._sentences[key]}: {text}")

    def _misread(self, nest: Nest, text: str) -> str:
        """What in a sentence is no day of `dating`, of a visit or of a lapse."""
        rest, wrong = text, []
        for pattern, expected in PHRASES:
            for found in pattern.finditer(rest):
                if found[1] != expected(nest, found, self.on):
                    wrong.append(f"{found[1]}; dating has {expected(nest, found, self.on)}")
            rest = pattern.sub("", rest)
        known = {format_day(day) for day in nest.visits}
        wrong += [
            f"{day} is no day of a visit" for day in re.findall(DAY, rest) if day not in known
        ]
        return ", ".join(wrong)


# "Most likely" follows the days of an event that comes next, and names none itself.
_MOST_LIKELY = re.compile(
    rf"(Clutch complete|Hatching|Fledging): {DAYS} \(\d+% chance\), most likely ({DAY})"
)


def compare_sentences_to_come(found: Compared, nest: Nest, texts: Iterable[str]) -> None:
    """What comes next: its likeliest day, then all other days."""
    rest = []
    for text in texts:
        for match in _MOST_LIKELY.finditer(text):
            dated = nest.events[match[1].lower()]
            found.same(
                "to come", nest.box, match[2], None if dated is None else format_day(dated.best)
            )
        rest.append(re.sub(rf", most likely {DAY}", "", text))
    found.sentences("to come", nest, nest.box, rest)


def compare_dates(found: Compared, nest: Nest, printed: Mapping[str, Any]) -> None:
    """The five events of `nests --json`."""
    names = ("first_egg", "complete", "hatch", "fledge", "loss")
    for name, (event, dated) in zip(names, nest.events.items(), strict=True):
        expected = dated and {
            "best": str(dated.best),
            "within_80": [str(day) for day in dated.days_80],
            "within_95": [str(day) for day in dated.days_95],
        }
        found.same("nests --json", f"{nest.box}, {event}", printed[name], expected)


def compare_nest(found: Compared, face: str, nest: Nest, printed: Mapping[str, Any]) -> None:
    """One attempt of a list of nests: its stage, and the sentences on how it is read."""
    stage = nest.stage(day_number(found.on))
    if nest.laid and stage is not None:
        found.same(face, f"{nest.box}, stage", printed["stage"], stage)
    found.sentences(face, nest, nest.box, printed["reasons"])


def compare_card(found: Compared, nests: list[Nest], card: Mapping[str, Any]) -> None:
    """A box's card: events, bars, picture, what comes next, what is due, and its sentences."""
    face, box = "card", card["box"]
    found.same(face, box, len(card["attempts"]), len(nests))
    for nest, printed in zip(nests, card["attempts"], strict=True):
        compare_nest(found, face, nest, printed)
        found.same(face, f"{box}, known on", printed["known_on"], str(found.on))
        for one in printed["days"]:
            dated = nest.events[one["event"]]
            assert dated is not None
            found.same(
                face,
                f"{box}, {one['event']}",
                [one[name] for name in ("best", "best_text", "interval_80", "interval_95")],
                [
                    str(dated.best),
                    format_day(dated.best),
                    format_days(*dated.days_80),
                    format_days(*dated.days_95),
                ],
            )
            found.same(
                face,
                f"{box}, {one['event']}",
                [*one["within_80"], *one["within_95"]],
                [str(day) for day in (*dated.days_80, *dated.days_95)],
            )
        for one in printed["forecast"]:
            comes = nest.comes[one["kind"]]
            found.same(
                face,
                f"{box}, {one['kind']}",
                [one["first"], one["last"], one["best"]],
                [
                    None if day is None else str(day)
                    for day in (comes.first, comes.last, comes.best)
                ],
            )
        compare_sentences_to_come(found, nest, [one["text"] for one in printed["forecast"]])
        found.sentences(face, nest, box, printed["date_reasons"])
        _compare_bars(found, nest, printed)
    for visit in card["visits"]:
        _compare_stage(found, nests, visit)
    due = card["due"]
    if due is not None:
        texts = [*due["reasons"], due["approach_text"], due["expected"], *card["cautions"]]
        found.sentences(face, nest_due(nests, found.on), box, texts)


def _compare_stage(found: Compared, nests: list[Nest], visit: Mapping[str, Any]) -> None:
    """The stage that a visit found a nest in: the one that the nest is in on that day."""
    day = day_number(visit["date"])
    if visit["stage"] is not None:
        own = [
            nest
            for nest in nests
            if nest.begins
            <= day
            <= max(int(nest.row[c.ALIVE_DAY]), int(nest.row[c.OVER_DAY]), nest.ends)
        ]
        stages = {nest.stage(day) for nest in own if nest.laid}
        # A nest that was not dated has no stage of its own.
        if stages and None not in stages and all(nest.laid for nest in own):
            found.among("stage at a visit", f"{own[-1].box}, {visit}", [visit["stage"]], stages)


def _compare_bars(found: Compared, nest: Nest, printed: Mapping[str, Any]) -> None:
    """Where the stages of the season bar begin and end; the picture's bars of the events."""
    face = "bars"
    bounds = {
        "laying": nest.best("first egg"),
        "incubating": nest.best("clutch complete"),
        "nestlings": nest.best("hatching"),
    }
    for piece in printed["bar"]:
        begins = bounds.get(piece["stage"])
        if begins is not None and nest.dates.first_egg is not None:
            found.same(face, f"{nest.box}, {piece['stage']}", piece["from"], str(day_of(begins)))
    if printed["bar"] and nest.dates.first_egg is not None:
        end = day_number(found.on) + 1
        end = end if nest.ongoing else min(end, nest.ends)
        found.same(face, f"{nest.box}, end", printed["bar"][-1]["to"], str(day_of(end)))
    if printed["picture"] is None:
        return
    for row in printed["picture"]["rows"]:
        dated = nest.events.get(row["label"].lower())
        for part in row["parts"] if dated is not None else ():
            assert dated is not None
            days = {"95": dated.days_95, "80": dated.days_80}.get(
                part["style"], (dated.best, dated.best)
            )
            expected = [str(days[0]), str(days[1] + dt.timedelta(days=1))]
            found.same(face, f"{nest.box}, {row['label']}", [part["from"], part["to"]], expected)


def compare_due(found: Compared, nests: list[Nest], printed: Mapping[str, Any]) -> None:
    """One box of the due list: its sentences, and until when a visit serves."""
    nest = nest_due(nests, found.on)
    texts = [one["text"] for one in printed["reasons"]]
    found.sentences(
        "due", nest, printed["box"], [*texts, printed["approach_text"], printed["expected"]]
    )
    for one in printed["reasons"]:
        if one["until"] is None:
            continue
        until = dt.date.fromisoformat(one["until"])
        found.same("due", f"{printed['box']}, {one['kind']}", until, _until(nest, one["kind"]))


def _until(nest: Nest | None, kind: str) -> dt.date | None:
    assert nest is not None
    hatch, fledge = nest.events["hatching"], nest.events["fledging"]
    if kind == "clutch can be counted":
        return None if hatch is None else hatch.days_80[0] - dt.timedelta(days=1)
    if kind == "banding window":
        return nest.comes[BANDING].last
    if kind == "fate can be read":
        return None if fledge is None else fledge.days_80[1] + dt.timedelta(days=SIGNS_DAYS)
    assert kind == "young can be aged"
    if hatch is None:
        return None
    closed = nest.comes.get(CLOSED)
    until = hatch.days_80[1] + dt.timedelta(days=AGED_DAYS)
    return until if closed is None else min(until, closed.first - dt.timedelta(days=1))


def compare_calendar(
    found: Compared, nests: Mapping[str, list[Nest]], histories: Histories, body: str, *, trail: str
) -> None:
    """Every event of a nest calendar; those called off lie on the day on which the nest ended."""
    of_uid = {}
    for box, own in nests.items():
        for attempt, nest in zip(histories.attempts_of(box), own, strict=True):
            for kind in KINDS:
                uid = event_id(histories, attempt, kind=kind, trail=trail)
                of_uid[uid] = nest, kind
    for block in body.replace("\r\n ", "").split("BEGIN:VEVENT")[1:]:
        lines = dict(line.split(":", 1) for line in block.split("\r\n") if ":" in line)
        nest, kind = of_uid[lines["UID"]]
        if lines.get("STATUS") == "CANCELLED":
            first = last = day_of(nest.ends)
        else:
            comes = nest.comes[kind]
            first, last = comes.first, comes.last or comes.first
            if kind == HATCHING and nest.dates.hatch is not None:
                first, last = nest.dates.hatch.days_80
            compare_sentences_to_come(found, nest, [lines["DESCRIPTION"].replace("\\", "")])
        printed = [lines["DTSTART;VALUE=DATE"], lines["DTEND;VALUE=DATE"]]
        expected = [f"{first:%Y%m%d}", f"{last + dt.timedelta(days=1):%Y%m%d}"]
        found.same("calendar", f"{nest.box}, {kind}", printed, expected)


def days_in_use(nests: Iterable[Nest], *, first_day: int, days: int) -> NDArray[np.bool_]:
    """On which days of a season a box holds a nest from its first egg to its end."""
    used = np.zeros(days, bool)
    for nest in nests:
        begins, egg, ends = (
            min(max(day - first_day, 0), days) for day in (nest.begins, nest.egg, nest.ends)
        )
        if not nest.laid:
            egg = ends
        used[begins:egg] = False
        used[max(egg, begins) : ends] = True
    return used


def compare_states(
    found: Compared, face: str, nests: Mapping[str, list[Nest]], states: Iterable[Mapping[str, Any]]
) -> None:
    """What each box is on the day: in use from the first egg to the end, and then only."""
    for state in states:
        if state["occupancy"] == "out of service":
            continue
        first_day = day_number(f"{found.on.year}-01-01")
        used = days_in_use(nests[state["box"]], first_day=first_day, days=366)
        at = day_number(found.on) - first_day
        found.same(face, state["box"], state["occupancy"] == "in use", bool(used[at]))


def days_in(text: str) -> set[tuple[int, int]]:
    """Every day in a text, as month and day, in whatever form it stands."""
    text = html.unescape(text)
    found = {(int(month), int(day)) for month, day in re.findall(r"\d{4}-(\d\d)-(\d\d)", text)}
    for day, month in re.findall(rf"(?<!\d)(\d{{1,2}}) ({MONTH})", text):
        found.add((MONTHS.index(month) + 1, int(day)))
    for first, month in re.findall(rf"(?<!\d)(\d{{1,2}}) to \d{{1,2}} ({MONTH})", text):
        found.add((MONTHS.index(month) + 1, int(first)))
    return found


def compare_season(found: Compared, nests: Mapping[str, list[Nest]], report: Mapping[str, Any],
                   names: Callable[[Nest], str]) -> None:  # fmt: skip
    """First eggs of a season's report, in numbers and sentences; boxes in use, by week."""
    season, face = report["season"], "season"
    eggs: defaultdict[str, list[int]] = defaultdict(list)
    for nest in (nest for own in nests.values() for nest in own if nest.season == season):
        egg = nest.best("first egg")
        if nest.row[c.LAID] == 1 and egg is not None:
            eggs[names(nest)].append(egg)
    printed = {one["species"]: one["first_eggs"] for one in report["each_species"]}
    for species, broods in printed.items():
        days = sorted(day for one in broods.values() for day in one["days"])
        found.same(face, f"first eggs of {species}", days, sorted(eggs[species]))
        for one in broods.values():
            own = [day_of(day) for day in sorted(one["days"])]
            if not own:
                continue
            ends = [one["earliest"], one["latest"]]
            found.same(face, species, ends, [str(own[0]), str(own[-1])])
            quarters = [one[name] for name in ("median", "lower_quartile", "upper_quartile")]
            found.among(face, species, quarters, {str(day) for day in own})
            said = [format_day(dt.date.fromisoformat(day)) for day in (*quarters, *ends)]
            found.same(face, species, re.findall(DAY, one["sentence"]), said)
    for year in report["years"]["each"]:
        egg_days = [
            egg
            for own in nests.values()
            for nest in own
            if nest.season == year["season"]
            and nest.row[c.LAID] == 1
            and (egg := nest.best("first egg")) is not None
        ]
        found.same(face, str(year["season"]), sorted(year["first_eggs"]["days"]), sorted(egg_days))
    for one in report["sentences"]:
        if one["passage"] == "laying":
            (species,) = (
                name for name in printed if one["text"].lower().startswith(name.lower() + ":")
            )
            first = printed[species]["first"]
            expected = [
                format_day(dt.date.fromisoformat(first[name])) for name in ("earliest", "median")
            ]
            said = re.findall(DAY, one["text"])
            # Of a single nest the first egg alone is printed.
            found.same(face, one["text"], said, expected[: len(said)])


def compare_map(
    found: Compared,
    face: str,
    nests: Mapping[str, list[Nest]],
    *,
    header: Mapping[str, Any],
    columns: Mapping[str, Any],
    boxes: Iterable[str],
) -> None:
    """Every day of a season as the map plays it: from which day to which a box is in use."""
    first_day, days = day_number(header["first_day"]), header["days"]
    of_boxes = entries(columns["changes"], columns["gap"])
    for box, changes in zip(boxes, of_boxes, strict=True):
        edges = [*(day for _, day in changes), days]
        states = columns["state"][[at for at, _ in changes]]
        shown = np.repeat(columns["occupancy"][states], np.diff(edges))
        used = days_in_use(nests[box], first_day=first_day, days=days)
        differs = (shown == IN_USE) != used
        differs[shown == OUT_OF_SERVICE] = False
        found.read[face] += int(np.count_nonzero(np.diff(used.astype(int))))
        for day in np.flatnonzero(differs)[:1].tolist():
            found.wrong.append(f"{face}, {box}: {day_of(first_day + day)} differs from dating")
