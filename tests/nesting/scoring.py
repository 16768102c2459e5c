"""Hold what was read from visits against the true stories of simulated nests.

The truth comes from `data_demo.simulate`, which shares no code with the reader.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any
from zoneinfo import ZoneInfo

from data_demo.biology import BIOLOGY
from data_demo.nest import TrueAttempt
from data_demo.simulate import Season
from layers.nesting import attempt_columns as c
from layers.nesting.guide import standard_guide
from layers.nesting.histories import Histories, read_histories
from layers.trail.coding import code_visits, day_number
from layers.trail.words import ACTIONS, FATES, SIGNS

LEFT = {"flattened", "droppings"}
_NEVER = 1_000_000
RAIDED = {"broken eggs", "nest torn", "snake", "squirrel"}


@dataclass
class Score:
    """Counts over many boxes; rates are None where nothing was counted."""

    boxes: int = 0
    right_number: int = 0
    named: int = 0
    right_species: int = 0
    fates: Counter[tuple[str, str]] = field(default_factory=Counter)
    telling: Counter[tuple[str, str]] = field(default_factory=Counter)
    fledged_too_young: list[str] = field(default_factory=list)
    wrong_number: list[str] = field(default_factory=list)
    wrong_fate: list[tuple[str, str, str]] = field(default_factory=list)

    def joined(self, other: Score) -> Score:
        """The counts of both together."""
        both = {name: getattr(self, name) + getattr(other, name) for name in vars(self)}
        return Score(**both)

    def number_rate(self) -> float:
        return self.right_number / self.boxes

    def species_rate(self) -> float:
        return self.right_species / self.named

    def fate_rate(self) -> float:
        right = sum(n for (true, read), n in self.telling.items() if true == read)
        return right / self.telling.total()


def read_season(season: Season, boxes: Sequence[str]) -> Histories:
    """Histories from the visits of a made season."""
    visits = code_visits(
        season.visits,
        boxes=boxes,
        timezone=ZoneInfo("America/New_York"),
        signs_words=SIGNS,
        actions_words=ACTIONS,
    )
    return read_histories(visits, standard_guide(), season_starts="01-01")


def score(season: Season, boxes: Sequence[str]) -> Score:
    """Score the reading of one made season."""
    result = Score()
    histories = read_season(season, boxes)
    replaced = {row["replaces"] for row in season.visits if row["replaces"]}
    rows: dict[str, list[Mapping[str, Any]]] = {box: [] for box in boxes}
    for row in season.visits:
        if row["visit_id"] not in replaced:
            rows[row["box"]].append(row)
    truth: dict[str, list[TrueAttempt]] = {box: [] for box in boxes}
    for attempt in season.truth:
        truth[attempt.box].append(attempt)
    for box in boxes:
        noted = sorted(rows[box], key=lambda row: row["seen_on"])
        seen = told_apart(truth[box], noted)
        _score_box(result, histories, box, seen, noted)
    return result


def _end(attempt: TrueAttempt) -> int:
    return _NEVER if attempt.end_day is None else attempt.end_day


def told_apart(
    truth: Sequence[TrueAttempt], rows: Sequence[Mapping[str, Any]]
) -> list[TrueAttempt]:
    """The true attempts that the visits can tell of, judged from truth and visits alone.

    Something of the nest, or of its remains, was written down before the next one
    began; and where nothing but material was, and the same species nested on, the
    inside was seen in between.
    """
    found = []
    starts = [*(attempt.start_day for attempt in truth[1:]), _NEVER][: len(truth)]
    for at, (attempt, until) in enumerate(zip(truth, starts, strict=True)):
        here = [
            row
            for row in rows
            if attempt.start_day <= day_number(row["seen_on"]) < max(until, attempt.start_day + 1)
        ]
        if not any(_something(row) for row in here):
            continue
        counted = any(row["eggs"] or row["young"] for row in here)
        following = truth[at + 1] if at + 1 < len(truth) else None
        if not counted and following is not None and following.species == attempt.species:
            egg_day = following.first_egg_day or _NEVER
            between = [r for r in rows if _end(attempt) <= day_number(r["seen_on"]) < egg_day]
            if not any(row["eggs"] is not None or row["nest"] for row in between):
                continue
        found.append(attempt)
    return found


def _something(row: Mapping[str, Any]) -> bool:
    return bool(
        (row["nest"] or "none") != "none"
        or row["eggs"]
        or row["young"]
        or row["adult"] in ("sitting", "flushed")
    )


def _score_box(
    result: Score,
    histories: Histories,
    box: str,
    truth: Sequence[TrueAttempt],
    rows: Sequence[Mapping[str, Any]],
) -> None:
    read = histories.attempts_of(box)
    result.boxes += 1
    if len(read) != len(truth):
        result.wrong_number.append(box)
    else:
        result.right_number += 1
    for attempt, at in _pairs(histories, truth, read):
        row = histories.rows[at]
        name = histories.species_name(int(row[c.SPECIES]))
        if name is not None and any(
            r["species"] == attempt.species
            and attempt.start_day <= day_number(r["seen_on"]) < _end(attempt)
            for r in rows
        ):
            result.named += 1
            result.right_species += name == attempt.species
        fate = row[c.LATER_FATE] if row[c.FATE] == c.ONGOING else row[c.FATE]
        said = "never laid" if row[c.PHASE] < c.EGGS else FATES[fate]
        result.fates[attempt.fate, said] += 1
        if evidence_tells(attempt, rows):
            result.telling[attempt.fate, said] += 1
            if attempt.fate != said:
                result.wrong_fate.append((box, attempt.fate, said))
        shortest = BIOLOGY[attempt.species].nestling_days[0]
        lost_early = attempt.fate == "failed" and (
            attempt.hatch_day is not None and _end(attempt) - attempt.hatch_day < shortest
        )
        if lost_early and said == "fledged":
            result.fledged_too_young.append(box)


def _pairs(
    histories: Histories, truth: Sequence[TrueAttempt], read: range
) -> list[tuple[TrueAttempt, int]]:
    """True attempts and the attempts read that overlap them most, each used once."""
    shared = []
    for t, attempt in enumerate(truth):
        for at in read:
            row = histories.rows[at]
            ends = row[c.LAPSES] if row[c.OVER_DAY] == c.MISSING else row[c.OVER_DAY]
            days = min(ends, _end(attempt)) - max(row[c.FIRST_DAY], attempt.start_day)
            shared.append((-int(days), t, at))
    pairs: dict[int, int] = {}
    for days, t, at in sorted(shared):
        if days <= 0 and t not in pairs and at not in pairs.values():
            pairs[t] = at
    return [(truth[t], at) for t, at in sorted(pairs.items())]


def evidence_tells(attempt: TrueAttempt, rows: Sequence[Mapping[str, Any]]) -> bool:
    """Whether the visits hold evidence of how a nest ended, judged from truth and visits alone.

    A nest that fledged: seen alive at the shortest nestling age or later, or found
    with signs of leaving. One that failed: found before its young, had they lived,
    could have left, or with signs of a predator, all dead, cold eggs more than once,
    or another species in it. One never laid in: always.
    """
    if attempt.fate == "never laid":
        return True
    if attempt.fate == "ongoing at season end":
        return False
    shortest = BIOLOGY[attempt.species].nestling_days[0]
    alive = [
        day_number(row["seen_on"])
        for row in rows
        if attempt.start_day <= day_number(row["seen_on"]) < _end(attempt)
        and (row["eggs"] or row["young"])
    ]
    after = next(
        (
            row
            for row in rows
            if day_number(row["seen_on"]) >= _end(attempt)
            and (row["eggs"] is not None or row["young"] is not None or row["nest"] == "none")
        ),
        None,
    )
    if not alive or after is None:
        return False
    found_day = day_number(after["seen_on"])
    signs = {word.strip() for word in (after["signs"] or "").split(";")}
    if attempt.fate == "fledged":
        assert attempt.hatch_day is not None
        old = alive[-1] - attempt.hatch_day >= shortest
        return old or bool(signs & LEFT)
    hatch = attempt.hatch_day
    if hatch is None:
        assert attempt.first_egg_day is not None
        hatch = (
            attempt.first_egg_day + attempt.clutch - 1 + BIOLOGY[attempt.species].incubation_days[0]
        )
    # What an observer can know: young were not there yet on the last look without any.
    too_soon = found_day - hatch < shortest - AGE_MARGIN_DAYS
    return too_soon or bool(signs & RAIDED) or attempt.cause in ("abandoned", "did not hatch")


AGE_MARGIN_DAYS = 3
"""An observer's judgement of age is right within this many days in nearly every case."""
