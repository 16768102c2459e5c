"""Why an attempt has the dates it has, in sentences that a keeper would accept."""

from __future__ import annotations

from collections.abc import Iterator

from layers.nesting import attempt_columns as c
from layers.nesting.dating.dates import (
    CANNOT_BE_DATED,
    NO_EGGS_SEEN,
    ONE_DOUBTFUL,
    AttemptDates,
    Dated,
    Dates,
)
from layers.nesting.dating.doubts import most_doubtful
from layers.nesting.dating.evidence import evidence_of_one, followed
from layers.nesting.histories import Histories
from layers.trail.coding import day_number
from layers.words import format_count, format_day

# A chance nearer to none or to all than this is not worth a sentence.
_OPEN_CHANCE = 0.02


def explained(histories: Histories, dates: Dates, attempt: int) -> list[str]:
    """Sentences on an attempt's dates: each day with its 95 % interval and what it rests on,
    the chance of fledging where that is open, and what contradicts what.
    """
    found = dates.of(attempt)
    if found.how == NO_EGGS_SEEN:
        return ["no eggs or young were seen, so there is nothing to date"]
    odd = contradiction(histories, dates, attempt)
    sentences = list(_events(histories, found, attempt))
    if followed(histories.rows[attempt : attempt + 2])[0]:
        begun = dates.of(attempt + 1).first_egg
        if begun is not None:
            sentences.append(
                f"over before the next clutch here, whose first egg came {_dated_text(begun)}"
            )
    if histories.species_name(int(histories.rows[attempt, c.SPECIES])) is None and sentences:
        sentences.append("the species is not recorded: the guide's widest figures were used")
    if odd is not None:
        sentences.append(odd)
    return sentences


def contradiction(histories: Histories, dates: Dates, attempt: int) -> str | None:
    """Which visit of an attempt is probably wrong, in a sentence; None where none is."""
    how = dates.how[attempt]
    if how == CANNOT_BE_DATED:
        return "the visits contradict each other: no dates are given"
    if how != ONE_DOUBTFUL:
        return None
    doubt = most_doubtful(histories, evidence_of_one(histories, attempt), dates.tables)
    return None if doubt is None else f"{doubt.what}. Please check this visit"


def _events(histories: Histories, found: AttemptDates, attempt: int) -> Iterator[str]:
    row = histories.rows[attempt]
    if found.first_egg is not None:
        rests = [
            f"{format_count(int(row[c.EGG_COUNT]), 'egg', 'eggs')} counted on "
            f"{format_day(row[c.EGG_DAY])}"
            if row[c.EGG_DAY] != c.MISSING
            else "eggs were never counted"
        ]
        if row[c.NO_EGG_DAY] != c.MISSING:
            rests.append(f"none yet on {format_day(row[c.NO_EGG_DAY])}")
        yield f"first egg {_dated_text(found.first_egg)}: {', '.join(rests)}"
    if found.complete is not None:
        yield f"clutch complete {_dated_text(found.complete)}"
    if found.hatch is not None:
        rests = []
        if row[c.NO_YOUNG_DAY] != c.MISSING:
            rests.append(f"eggs and no young on {format_day(row[c.NO_YOUNG_DAY])}")
        if row[c.YOUNG_DAY] != c.MISSING:
            rests.append(f"young on {format_day(row[c.YOUNG_DAY])}")
        if row[c.AGES] > 0:
            rests.append(f"their age judged {format_count(int(row[c.AGES]), 'time', 'times')}")
        lead = (
            "hatching" if (found.hatched or 0) > 1 - _OPEN_CHANCE else "hatching, if it came to it,"
        )
        yield f"{lead} {_dated_text(found.hatch)}" + (f": {', '.join(rests)}" if rests else "")
    chance = found.fledged or 0.0
    for dated, likely, lead in (
        (found.fledge, chance, "fledging"),
        (found.loss, 1 - chance, "loss"),
    ):
        if dated is not None and likely > _OPEN_CHANCE:
            given = lead if likely > 1 - _OPEN_CHANCE else f"{lead}, if so it ended,"
            yield f"{given} {_dated_text(dated)}"
    if found.fledged is not None and _OPEN_CHANCE < chance < 1 - _OPEN_CHANCE:
        yield f"chance that it fledged, or will: {chance:.0%}"


def _dated_text(dated: Dated) -> str:
    first, last = (format_day(day_number(day)) for day in dated.days_95)
    best = format_day(day_number(dated.best))
    return f"on {best}" if first == last else f"about {best} (95 %: {first} to {last})"
