"""Why an attempt is read as it is, in sentences that a keeper would accept.

Made on demand from an attempt's row and its visits; the rules that they name
are in `reading/attempts.py` and `reading/fates.py`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np

from layers.nesting import attempt_columns as c
from layers.nesting.dating import CERTAIN, PROBABLE, Dates
from layers.nesting.histories import Histories
from layers.trail.coding import day_number
from layers.trail.words import NEST
from layers.words import (
    capitalise,
    format_age,
    format_chance,
    format_count,
    format_day,
    format_days,
    with_article,
)


class _Facts:
    """What the sentences about one attempt need to know."""

    def __init__(self, histories: Histories, dates: Dates, attempt: int) -> None:
        self.dates = dates.of(attempt)
        self.row = histories.rows[attempt]
        self.visits = histories.visits
        self.species = histories.species_name(int(self.row[c.SPECIES]))
        limits = histories.limits[self.row[c.SPECIES] + 1]
        self.leaves = int(limits[c.NESTLING_LEAVES])
        self.too_young = int(limits[c.NESTLING_TOO_YOUNG])
        self.clutch_most = int(limits[c.CLUTCH_MOST])
        self.incubation_most = int(limits[c.INCUBATION_MOST])
        self.name = self.species or "birds of a species not recorded"
        lo, hi = histories.visit_starts[self.row[c.BOX] : self.row[c.BOX] + 2]
        self.own = lo + np.flatnonzero(histories.visit_attempt[lo:hi] == attempt)

    def day(self, column: int) -> str:
        return format_day(int(self.row[column]))

    def known(self, column: int) -> bool:
        return bool(self.row[column] != c.MISSING)

    def signs(self) -> list[str]:
        over = int(self.row[c.OVER])
        if over < 0:
            return []
        bits = int(self.visits.signs[over])
        return [word for i, word in enumerate(self.visits.signs_words) if bits >> i & 1]

    def found(self) -> str:
        """What the last visit found: `nest empty (flattened, droppings) on 11 June`."""
        signs = self.signs()
        listed = f" ({', '.join(signs)})" if signs else ", no signs recorded"
        over = int(self.row[c.OVER])
        eggs = int(self.visits.eggs[over]) if over >= 0 else 0
        left = f"{format_count(eggs, 'egg', 'eggs')} left" if eggs > 0 else "nest empty"
        return f"{left}{listed} on {self.day(c.OVER_DAY)}"

    def young_alive(self) -> str:
        """The young when last seen alive: `six young about 14 days old on 3 June`."""
        alive = int(self.row[c.ALIVE_DAY])
        count = int(self.row[c.YOUNG_LAST])
        young = "young" if count <= 0 else format_count(count, "young", "young")
        hatch = self.dates.hatch
        if hatch is None or alive < day_number(hatch.best):
            return f"{young} on {format_day(alive)}"
        return f"{young} {format_age(alive - day_number(hatch.best))} on {format_day(alive)}"

    def guide(self) -> str:
        if self.species is None:
            return f"young of an unknown species are taken to leave from day {self.leaves}"
        return f"the guide has young of the {self.name} leaving from day {self.leaves}"

    def last_eggs(self) -> str:
        if not self.known(c.EGGS_LAST) or self.row[c.EGGS_LAST] < 0:
            return f"an adult sitting on {self.day(c.ALIVE_DAY)}"
        eggs = format_count(int(self.row[c.EGGS_LAST]), "egg", "eggs")
        return f"{eggs} on {self.day(c.EGGS_DAY)}"


def reasons(histories: Histories, dates: Dates, attempt: int) -> list[str]:
    """Sentences on how one attempt was read, in the order it went.

    Parameters
    ----------
    dates
        Those of `histories`.
    attempt
        Position in `histories.rows`.
    """
    facts = _Facts(histories, dates, attempt)
    return [capitalise(f"{text}.") for text in _all(facts)]


def _all(t: _Facts) -> Iterator[str]:
    yield from _beginning(t)
    yield from _eggs(t)
    yield from _hatching(t)
    yield from _notes(t)
    fate = int(t.row[c.FATE])
    if fate == c.ONGOING:
        yield _going_on(t)
    else:
        yield _FATES[int(t.row[c.WHY])](t)
        yield from _by_chance(t)
    yield from _fledged(t)


def _beginning(t: _Facts) -> Iterator[str]:
    first = int(t.row[c.FIRST])
    level = int(t.visits.nest[first])
    day = t.day(c.FIRST_DAY)
    if t.visits.eggs[first] > 0:
        yield f"found on {day} with {format_count(int(t.visits.eggs[first]), 'egg', 'eggs')}"
    elif t.visits.young[first] > 0:
        yield f"found on {day} with {format_count(int(t.visits.young[first]), 'young', 'young')}"
    elif level > 0:
        yield f"nest material ({NEST[level]}) first seen on {day}"
    else:
        yield f"an adult in the box on {day}"
    if t.species is None:
        yield "no visit names the species, so wide limits were used"


def _eggs(t: _Facts) -> Iterator[str]:
    if not t.known(c.EGG_DAY) or t.row[c.EGGS_MAX] <= 0:
        return
    most = format_count(int(t.row[c.EGGS_MAX]), "egg", "eggs")
    record = f"at most {most}"
    if t.known(c.NO_EGG_DAY):
        record += f"; no egg on {t.day(c.NO_EGG_DAY)}"
    if t.dates.first_egg is not None:
        record += f"; the first was laid about {format_day(t.dates.first_egg.best)}"
    yield record


def _hatching(t: _Facts) -> Iterator[str]:
    if t.row[c.PHASE] != c.YOUNG:
        return
    before = f"no young on {t.day(c.NO_YOUNG_DAY)}, " if t.known(c.NO_YOUNG_DAY) else ""
    hatched = "" if t.dates.hatch is None else f": hatched about {format_day(t.dates.hatch.best)}"
    yield f"{before}young on {t.day(c.YOUNG_DAY)}{hatched}"


def _notes(t: _Facts) -> Iterator[str]:
    notes = int(t.row[c.NOTES])
    if notes & c.NOTE_FEWER_EGGS:
        yield "the egg count fell on the way: some eggs were lost"
    if notes & c.NOTE_MANY_EGGS:
        yield (
            "more eggs than one female lays, or faster than she lays them: "
            f"perhaps two laid here (the guide has at most {t.clutch_most})"
        )
    if notes & c.NOTE_PART_HATCHED:
        yield "some eggs lay unhatched beside the young"
    if notes & c.NOTE_OTHER_NAME:
        others = {
            t.visits.species_names[code]
            for code in t.visits.species[t.own].tolist()
            if code >= 0 and code != t.row[c.SPECIES]
        }
        if others:
            yield f"also written down as {', '.join(sorted(others))}, taken as a slip of the pen"
    if notes & c.NOTE_ADULT_ONLY and t.row[c.EGG_DAY] == c.MISSING:
        yield "known from an adult sitting tight; eggs were not counted"
    if notes & c.NOTE_AGE_DISAGREES:
        yield "the ages judged on different visits do not agree"
    if notes & c.NOTE_LATE_SIGNS:
        yield "signs of leaving were written down on a later visit"
    if notes & c.NOTE_REOPENED:
        yield "a visit that found it over was followed by one that found it alive"


def _going_on(t: _Facts) -> str:
    last = t.day(c.ALIVE_DAY)
    if t.row[c.PHASE] == c.YOUNG:
        state = t.young_alive()
    elif t.row[c.PHASE] == c.EGGS:
        state = t.last_eggs()
    else:
        state = f"nest still there on {last}"
    later = (
        f"from {t.day(c.LAPSES)} on, without another look, it counts as fledged"
        if t.row[c.LATER_FATE] == c.FATE_FLEDGED
        else f"without another look by {t.day(c.LAPSES)} its fate stays unknown"
    )
    return f"{state}; not seen over; {later}"


def _by_chance(t: _Facts) -> Iterator[str]:
    """What the chance makes of an end that was not seen, and what would have decided it."""
    chance = t.dates.fledged
    if t.row[c.FATE] != c.FATE_UNKNOWN or chance is None:
        return
    share = f"the chance that it fledged is {format_chance(chance)}"
    if max(chance, 1 - chance) >= CERTAIN:
        yield f"given all its visits, {share}: counted as {'fledged' if chance > 0.5 else 'failed'}"
        return
    if max(chance, 1 - chance) >= PROBABLE:
        share += f": probably {'fledged' if chance > 0.5 else 'failed'}"
    wanted = "a note of a flattened nest, droppings or signs of a predator"
    if t.dates.fledge is not None:
        about = format_days(*t.dates.fledge.days_80)
        wanted = f"a look shortly before the young were to leave, {about}, or {wanted}"
    yield f"{share}; {wanted}, would have decided it"


def _fledged(t: _Facts) -> Iterator[str]:
    if t.row[c.FATE] != c.FATE_FLEDGED:
        return
    if t.known(c.FLEDGED):
        yield f"{format_count(int(t.row[c.FLEDGED]), 'young', 'young')} counted as fledged"
    elif t.row[c.YOUNG_LAST] > 0:
        yield (
            f"at most {format_count(int(t.row[c.YOUNG_LAST]), 'young', 'young')} can have fledged; "
            "they were last counted too early to say more"
        )
    else:
        yield "how many fledged is not known: the young were not counted"


def _undecided(t: _Facts) -> str:
    return f"{_before(t)}; {t.found()}; young may have left or been lost, and no sign shows which"


def _raided(t: _Facts) -> str:
    return f"{_before(t)}; {t.found()}: signs of a predator"


def _before(t: _Facts) -> str:
    if t.row[c.PHASE] == c.BUILDING:
        return f"no egg seen by {t.day(c.ALIVE_DAY)}"
    return t.young_alive() if t.row[c.PHASE] == c.YOUNG else t.last_eggs()


def _eggs_gone(t: _Facts) -> str:
    known = "" if t.signs() else "; the cause is unknown"
    return f"{t.last_eggs()}; {t.found()}, before young could have left{known}"


def _cold(t: _Facts) -> str:
    end = "a parent found dead" if t.row[c.CAUSE] == c.PARENT_DIED else "given up"
    if t.known(c.COLD_DAY):
        return f"{t.last_eggs()}, cold since {t.day(c.COLD_DAY)} and no parent seen: {end}"
    return f"{t.last_eggs()}, cold: {end}"


def _taken(t: _Facts) -> str:
    over = int(t.row[c.OVER])
    other = int(t.visits.species[over])
    name = t.visits.species_names[other] if other >= 0 else "another species"
    return f"{_before(t)}; on {t.day(c.OVER_DAY)} the nest of {with_article(name)} was in its place"


def _never_laid(t: _Facts) -> str:
    return "no egg was ever seen, so it does not count as a nest that failed"


_FATES: dict[int, Callable[[_Facts], str]] = {
    c.WHY_OLD_ENOUGH: lambda t: (
        f"{t.young_alive()}; {t.found()}; {t.guide()}"
        if t.known(c.OVER_DAY)
        else f"{t.young_alive()}, not looked at again; {t.guide()}"
    ),
    c.WHY_LEFT_SIGNS: lambda t: f"{_before(t)}; {t.found()}; {t.guide()}",
    c.WHY_SHELLS: lambda t: f"{t.last_eggs()}; {t.found()}; young of this species leave at once",
    c.WHY_TOO_YOUNG: lambda t: f"{t.young_alive()}; {t.found()}; {t.guide()}, too late for these",
    c.WHY_ALL_DEAD: lambda t: f"{t.young_alive()}; all found dead on {t.day(c.OVER_DAY)}",
    c.WHY_RAIDED: _raided,
    c.WHY_EGGS_GONE: _eggs_gone,
    c.WHY_COLD: _cold,
    c.WHY_OVERDUE: lambda t: (
        f"{t.last_eggs()}, unhatched long after the longest incubation "
        f"of {t.incubation_most} days in the guide"
    ),
    c.WHY_TAKEN: _taken,
    c.WHY_KEEPER: lambda t: f"{_before(t)}; the nest was taken out on {t.day(c.OVER_DAY)}",
    c.WHY_UNDECIDED: _undecided,
    c.WHY_GAP: lambda t: (
        f"{_before(t)}; by {t.day(c.OVER_DAY)} that nest must have been over and another begun, "
        "and its outcome is unknown"
    ),
    c.WHY_NEVER_LAID: _never_laid,
    c.WHY_USED: lambda t: (
        f"no eggs or young were seen, but {' and '.join(t.signs())} on {t.day(c.OVER_DAY)}: young "
        "were raised here; the outcome is unknown"
    ),
    c.WHY_NOT_LOOKED: lambda t: (
        f"{_before(t)}; no visit before the day by which it must have been over"
    ),
    c.WHY_RELAID: lambda t: (
        f"{t.last_eggs()}; on {t.day(c.OVER_DAY)} fewer eggs, then more again: "
        "the first clutch was lost and a new one laid in the same nest"
    ),
}
