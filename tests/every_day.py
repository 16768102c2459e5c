"""Reads the days that a face prints of an event, and compares them with those of `dating`."""

from __future__ import annotations

import datetime as dt
import html
import re
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from layers.nesting import attempt_columns as c
from layers.nesting.calendar import KINDS, event_id
from layers.nesting.dating import EVENTS, AttemptDates, Dated, Dates, stage_days
from layers.nesting.dating.stages import EGG, END
from layers.nesting.forecast import BANDING, CHECK, CLOSED, HATCHING, Forecast, forecast
from layers.nesting.histories import Histories
from layers.nesting.timeline import IN_USE, OUT_OF_SERVICE
from layers.trail.coding import day_number, day_of
from layers.words import format_age, format_day, format_days

MONTHS = [dt.date(2000, month, 1).strftime("%B") for month in range(1, 13)]
MONTH = f"(?:{'|'.join(MONTHS)})"
DAY = rf"\d{{1,2}} {MONTH}"
DAYS = rf"(?:\d{{1,2}}(?: {MONTH})? to )?{DAY}"
AGE = r"newly hatched|about \w+ days? old"
HAS_A_DAY = re.compile(rf"{DAY}|{AGE}")

# As in `layers.nesting.due`: days after fledging on which signs can be read, and the age up to
# which young can be aged.
SIGNS_DAYS, AGED_DAYS = 7, 8


@dataclass(frozen=True)
class Nest:
    """One attempt with its days, and the days on which its box was visited."""

    box: str
    season: int
    number: int
    row: NDArray[np.int32]
    dates: AttemptDates
    ongoing: bool
    next_egg: Dated | None
    visits: frozenset[dt.date]
    comes: Mapping[str, Forecast]
    begins: int
    egg: int
    ends: int

    @property
    def events(self) -> dict[str, Dated | None]:
        of = self.dates
        return dict(
            zip(EVENTS, (of.first_egg, of.complete, of.hatch, of.fledge, of.loss), strict=True)
        )

    @property
    def laid(self) -> bool:
        return bool(self.row[c.PHASE] >= c.EGGS)

    @property
    def lapses(self) -> dt.date:
        return day_of(self.row[c.LAPSES])

    @property
    def hatched(self) -> bool:
        """Whether young were seen, or are known to have left."""
        return bool(self.row[c.PHASE] == c.YOUNG or self.row[c.FATE] == c.FATE_FLEDGED)

    def best(self, event: str) -> int | None:
        dated = self.events[event]
        return None if dated is None else day_number(dated.best)

    def stage(self, day: int) -> str | None:
        """By the best days; None where the nest was not dated."""
        egg, complete = self.best("first egg"), self.best("clutch complete")
        if egg is None or complete is None:
            return None
        hatch = self.best("hatching") if self.hatched else None
        if day >= self.ends and not self.ongoing:
            return "over"
        if hatch is not None and day >= hatch:
            return "nestlings"
        return "building" if day < egg else "laying" if day < complete else "incubating"


def all_nests(histories: Histories, dates: Dates, *, on: dt.date) -> dict[str, list[Nest]]:
    """Every attempt of every box, in order; `histories` and `dates` as they are known on a day."""
    found: dict[str, list[Nest]] = {box: [] for box in histories.visits.boxes}
    fates = histories.fates(on)
    fallback = stage_days(histories, dates)
    for a in range(len(histories)):
        row, of = histories.rows[a], dates.of(a)
        box = histories.visits.boxes[row[c.BOX]]
        own = histories.visits_of(box)
        ongoing = bool(fates[a] == c.ONGOING)
        nest = Nest(
            box=box,
            season=int(row[c.SEASON]),
            number=int(histories.numbers[a]),
            row=row,
            dates=of,
            ongoing=ongoing,
            next_egg=dates.of(a + 1).first_egg if a + 1 in histories.attempts_of(box) else None,
            visits=frozenset(day_of(day) for day in histories.visits.day[own.start : own.stop]),
            comes={one.kind: one for one in forecast(histories, dates, a, on=on)},
            begins=int(row[c.FIRST_DAY]),
            egg=int(fallback[a, EGG]),
            ends=int(row[c.LAPSES]) if ongoing else _end(histories, of, a, int(fallback[a, END])),
        )
        egg = nest.best("first egg")
        if egg is not None:
            nest = replace(nest, egg=egg, begins=min(nest.begins, egg))
        found[box].append(nest)
    return found


def _end(histories: Histories, of: AttemptDates, attempt: int, undated: int) -> int:
    """The day of fledging or loss of a nest that is over; of an undated one, what is seen."""
    row = histories.rows[attempt]
    fate = row[c.LATER_FATE] if row[c.FATE] == c.ONGOING else row[c.FATE]
    left = fate == c.FATE_FLEDGED or (fate == c.FATE_UNKNOWN and (of.fledged or 0.0) >= 0.5)
    dated = of.fledge if left else of.loss
    if row[c.OVER_DAY] == c.MISSING and fate != c.FATE_FLEDGED:
        return int(row[c.LAPSES])
    return undated if dated is None else day_number(dated.best)


def nest_due(nests: Sequence[Nest], on: dt.date) -> Nest | None:
    """The one that the due list of a day is about: the last of the season, or under way."""
    if not nests or (nests[-1].season != on.year and not nests[-1].ongoing):
        return None
    return nests[-1]


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


Expected = Callable[[Nest, re.Match[str], dt.date], str]


def _best(event: str) -> Expected:
    def expected(nest: Nest, found: re.Match[str], on: dt.date) -> str:
        dated = nest.events[event]
        return "no day" if dated is None else format_day(dated.best)

    return expected


def _days_80(event: str) -> Expected:
    def expected(nest: Nest, found: re.Match[str], on: dt.date) -> str:
        dated = nest.events[event]
        return "no day" if dated is None else format_days(*dated.days_80)

    return expected


def _comes(kind: str) -> Expected:
    def expected(nest: Nest, found: re.Match[str], on: dt.date) -> str:
        one = nest.comes.get(kind)
        return "no days" if one is None else format_days(one.first, one.last or one.first)

    return expected


def _closed(nest: Nest, found: re.Match[str], on: dt.date) -> str:
    """The closed days of a nest under way; of one that one visit found over, those of the case
    that the visit is wrong.
    """
    closed = nest.dates.closed
    if nest.ongoing or closed is None:
        return _comes(CLOSED)(nest, found, on)
    return format_days(*closed)


def _explained(event: str) -> Expected:
    return lambda nest, found, on: _with_interval(nest.events[event])


def _with_interval(dated: Dated | None) -> str:
    if dated is None:
        return "no day"
    first, last = dated.days_95
    if first == last:
        return f"on {format_day(dated.best)}"
    return f"about {format_day(dated.best)} (95 %: {format_day(first)} to {format_day(last)})"


def _age_then(nest: Nest, found: re.Match[str], on: dt.date) -> str:
    """The age of young on the day of a visit that the sentence names."""
    hatch = nest.best("hatching")
    seen = next((day for day in nest.visits if _said(day, nest) == found[2]), None)
    if hatch is None or seen is None:
        return "no age"
    return format_age(day_number(seen) - hatch)


def _said(day: dt.date, nest: Nest) -> str:
    return format_day(day) if day.year == nest.season else str(day)


def _age_now(nest: Nest, found: re.Match[str], on: dt.date) -> str:
    hatch = nest.best("hatching")
    return "no age" if hatch is None else format_age(day_number(on) - hatch)


def _aged_until(nest: Nest, found: re.Match[str], on: dt.date) -> str:
    hatch, closed = nest.events["hatching"], nest.comes.get(CLOSED)
    if hatch is None:
        return "no day"
    until = hatch.days_80[1] + dt.timedelta(days=AGED_DAYS)
    return format_day(until if closed is None else min(until, closed.first - dt.timedelta(days=1)))


def _signs_until(nest: Nest, found: re.Match[str], on: dt.date) -> str:
    fledge = nest.events["fledging"]
    if fledge is None:
        return "no day"
    return format_day(fledge.days_80[1] + dt.timedelta(days=SIGNS_DAYS))


_IF = r"(?:, if (?:it came to it|so it ended),)?"
_SAID = rf"((?:on|about) {DAY}(?: \(95 %: {DAY} to {DAY}\))?)"
_LATER = r"(?:, if it comes to it \(\d+%\))?"

_PHRASES: tuple[tuple[str, Expected], ...] = (
    # Why it is read so (`layers.nesting.reasons`).
    (rf"the first was laid about ({DAY})", _best("first egg")),
    (rf"hatched about ({DAY})", _best("hatching")),
    (rf"({AGE}) on ({DAY})", _age_then),
    (
        rf"(?:[Ff]rom|without another look by) ({DAY})(?= on, without| its fate)",
        lambda nest, found, on: format_day(nest.lapses),
    ),
    (rf"before the young were to leave, ({DAYS})", _days_80("fledging")),
    # Why it is dated so (`layers.nesting.dating.explained`).
    (rf"whose first egg came {_SAID}", lambda nest, found, on: _with_interval(nest.next_egg)),
    *(
        (rf"(?i:{event}){_IF} {_SAID}", _explained(event))
        for event in ("first egg", "clutch complete", "hatching", "fledging", "loss")
    ),
    # What comes next (`layers.nesting.forecast`).
    *(
        (rf"{event}: ({DAYS}) \(", _days_80(event.lower()))
        for event in ("Clutch complete", "Hatching", "Fledging")
    ),
    (rf"Leave the box closed ({DAYS})", _comes(CLOSED)),
    (rf"Do not open ({DAYS})", _closed),
    (rf"From ({DAY}) on the young should have left", _comes(CHECK)),
    (rf"days old: ({DAYS}) \(", _comes(BANDING)),
    # What is due (`layers.nesting.due`).
    (rf"complete since ({DAYS})", _days_80("clutch complete")),
    (rf"until hatching, ({DAYS})", _days_80("hatching")),
    (rf"Hatching was expected ({DAYS})", _days_80("hatching")),
    (rf"judged well until about ({DAY})", _aged_until),
    (rf"to be banded ({DAYS})", _comes(BANDING)),
    (rf"Fledging was expected ({DAYS})", _days_80("fledging")),
    (rf"be read until about ({DAY})", _signs_until),
    (rf"hatching expected ({DAYS})", _days_80("hatching")),
    (rf"fledging expected ({DAYS})", _days_80("fledging")),
    (rf"young ({AGE})\.", _age_now),
)
PHRASES = tuple((re.compile(pattern), expected) for pattern, expected in _PHRASES)
"""How each sentence prints a day of an event, and what that must be by `dating`."""

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
    for at, box in enumerate(boxes):
        lo, hi = columns["offset"][at : at + 2]
        edges = [*columns["day"][lo:hi].tolist(), days]
        shown = np.repeat(columns["occupancy"][lo:hi], np.diff(edges))
        used = days_in_use(nests[box], first_day=first_day, days=days)
        differs = (shown == IN_USE) != used
        differs[shown == OUT_OF_SERVICE] = False
        found.read[face] += int(np.count_nonzero(np.diff(used.astype(int))))
        for day in np.flatnonzero(differs)[:1].tolist():
            found.wrong.append(f"{face}, {box}: {day_of(first_day + day)} differs from dating")
