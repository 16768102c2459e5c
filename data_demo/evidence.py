"""What the visits of a made season can show of its nests, to judge a reader fairly.

Nobody can count a nest that no visit saw, nor tell the fate of one whose end left no
trace. This is the yardstick of the tests and the benchmark; it looks at the rows that
people wrote, and at the truth only to know which rows belong to which nest.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from data_demo.biology import BIOLOGY
from data_demo.nest import TrueAttempt
from data_demo.plans import day_number
from data_demo.records import Row
from data_demo.simulate import Season

_DAMAGE = {"broken eggs", "nest torn", "feathers", "hair", "ants", "wet", "cold", "dead adult"}
_LEFT = {"flattened", "droppings"}

# An age judged by eye may be this far off, in days; two standard deviations of the
# least careful observer.
_AGE_DOUBT_DAYS = 3

# Eggs still there this many days after they were first seen will not hatch: the longest
# laying and incubation of the simulator's species with two days to spare.
_EGGS_TOO_OLD_DAYS = 30

# Eggs felt cold twice, this many days apart, are deserted: common practice, no source.
_COLD_DAYS = 6


@dataclass(frozen=True, slots=True)
class Evidence:
    """One true attempt and what the visits show of it.

    Attributes
    ----------
    seen
        Some visit in its time saw material, eggs, young or a bird at the nest.
    fate_shown
        The visits tell whether it fledged or failed. False for nests that were never
        laid in or were not over by the season's end: they have neither fate.
    """

    truth: TrueAttempt
    seen: bool
    fate_shown: bool


def evidence(season: Season) -> tuple[Evidence, ...]:
    """What the visits show of each attempt, in the order of `season.truth`."""
    replaced = {row["replaces"] for row in season.visits}
    rows: dict[str, list[Row]] = defaultdict(list)
    for row in season.visits:
        if row["visit_id"] not in replaced:
            rows[row["box"]].append(row)
    for of_box in rows.values():
        of_box.sort(key=_day)
    shown = []
    for i, truth in enumerate(season.truth):
        following = season.truth[i + 1] if i + 1 < len(season.truth) else None
        same_box = following is not None and following.box == truth.box
        next_laid = following.first_egg_day if following is not None and same_box else None
        shown.append(_evidence(truth, rows[truth.box], next_laid))
    return tuple(shown)


def _day(row: Row) -> int:
    return day_number(row["seen_on"])


def _evidence(truth: TrueAttempt, rows: Sequence[Row], next_laid: int | None) -> Evidence:
    end = truth.end_day
    removed = truth.cause == "nest removed"
    during = [
        row
        for row in rows
        if truth.start_day <= _day(row) and (end is None or _day(row) < end + removed)
    ]
    seen = any(_shows_nest(row) for row in during)
    if end is None or not truth.laid:
        return Evidence(truth, seen, fate_shown=False)
    if removed:
        return Evidence(truth, seen, fate_shown=any(row["actions"] for row in during))
    after = [
        row
        for row in rows
        if end <= _day(row)
        and (
            (_shows_end(row) and (next_laid is None or _day(row) < next_laid))
            or row["species"] not in (None, truth.species)
        )
    ]
    alive = [row for row in during if _shows_life(row)]
    if not after or not alive:
        return Evidence(truth, seen, fate_shown=False)
    told = _tells_fledged if truth.fate == "fledged" else _tells_failed
    return Evidence(truth, seen, fate_shown=told(truth, alive, after))


def _shows_nest(row: Row) -> bool:
    return (row["nest"] or "none") != "none" or _shows_life(row)


def _shows_life(row: Row) -> bool:
    at_nest = row["adult"] in ("sitting", "feeding")
    return bool(row["eggs"] or row["young"] or at_nest)


def _shows_end(row: Row) -> bool:
    """Whether somebody looked inside and wrote that nothing lives there any more."""
    wrote = row["nest"] is not None or row["eggs"] is not None or row["signs"] is not None
    return wrote and row["opened"] != "no" and not row["young"]


def _signs(rows: Iterable[Row]) -> set[str]:
    return {sign for row in rows if row["signs"] for sign in row["signs"].split(";")}


def _tells_fledged(truth: TrueAttempt, alive: Sequence[Row], after: Sequence[Row]) -> bool:
    """Young, then the marks that leaving young make; or young seen old enough to leave."""
    with_young = [row for row in alive if row["young"] or row["adult"] == "feeding"]
    signs = _signs(after)
    if not with_young or signs & _DAMAGE:
        return False
    shortest = BIOLOGY[truth.species].nestling_days[0]
    day = _day(with_young[-1])
    return bool(signs & _LEFT) or _age_limits(with_young, day)[0] >= shortest


def _tells_failed(truth: TrueAttempt, alive: Sequence[Row], after: Sequence[Row]) -> bool:
    """Damage, dead young, eggs that will never hatch, or emptied too early to have left."""
    if _signs(after) & _DAMAGE or any(row["dead_young"] for row in after):
        return True
    if any(row["eggs"] for row in after):
        with_eggs = [row for row in [*alive, *after] if row["eggs"]]
        cold = [row for row in with_eggs if row["eggs_warm"] == "no"]
        too_old = _day(with_eggs[-1]) - _day(with_eggs[0]) >= _EGGS_TOO_OLD_DAYS
        long_cold = len(cold) > 1 and _day(cold[-1]) - _day(cold[0]) >= _COLD_DAYS
        return truth.hatched == 0 and (too_old or long_cold or bool(after[-1]["actions"]))
    shortest = BIOLOGY[truth.species].nestling_days[0]
    return _age_limits(alive, _day(after[0]))[1] < shortest


def _age_limits(alive: Sequence[Row], day: int) -> tuple[int, int]:
    """The least and greatest age that the young can have had on a day, by what was written."""
    least, greatest = 0, day
    for row in alive:
        since = day - _day(row)
        if row["young_days"] is not None:
            least = max(least, row["young_days"] - _AGE_DOUBT_DAYS + since)
            greatest = min(greatest, row["young_days"] + _AGE_DOUBT_DAYS + since)
        elif row["young"]:
            least = max(least, since)
        elif row["eggs"]:
            greatest = min(greatest, since)
    return least, greatest
