"""A season's numbers for the public: no box, no day, no name, and no small number.

How nests are protected here:

- A season is published once it is over, from the boxes and attempts that the caller allows.
- Dates are published by month.
- A number of nests or boxes below `LEAST_PUBLISHED` is put together with others until they
  reach it, and what is put together does too, so that no total gives it away.
- Nothing that a person wrote is published but for the trail's name: a species that the
  guide does not have counts among the others.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray

from layers.nesting import attempt_columns as c
from layers.nesting.dating import Dates
from layers.nesting.guide import Guide
from layers.nesting.histories import Histories
from layers.nesting.season.apparent import ENOUGH_NESTS
from layers.nesting.season.box_use import box_use
from layers.nesting.season.exposure import season_table
from layers.nesting.season.fledglings import fledged_in_all
from layers.nesting.season.periods import Periods, periods
from layers.nesting.season.report.cells import Cell, Sheet
from layers.nesting.season.report.counting import counts_of, success_of, survival_of
from layers.nesting.season.report.species import HOUSE_SPARROW, without_house_sparrows
from layers.nesting.season.report.wording import Sentence, Value, on_success, sentence
from layers.nesting.season.tables import SeasonTable
from layers.nesting.season.young import young_fledged
from layers.trail.coding import day_of
from layers.trail.settings import Settings, season_days

# Smallest number of nests or boxes that is published (a usual bound of disclosure control; common
# practice, no source).
LEAST_PUBLISHED = 5

OTHERS = "other species"


@dataclass(frozen=True)
class SeasonSummary:
    """What the public may read of one season; `tables` is empty where there is too little.

    `trail` is the name that the public knows the trail by.
    """

    trail: str
    season: int
    sentences: tuple[Sentence, ...]
    tables: tuple[Sheet, ...]


def season_summary(
    histories: Histories,
    dates: Dates,
    *,
    season: int,
    on: date,
    settings: Settings,
    boxes: Collection[str],
    attempts: NDArray[np.bool_] | None = None,
) -> SeasonSummary:
    """A season in plain sentences and a few tables, fit for the public.

    Parameters
    ----------
    dates
        Of these histories.
    on
        The day to look from: a season that is not over by then is not published.
    boxes
        Ids of the boxes that may count.
    attempts
        Which attempts of the histories may count; None = all in these boxes.
    """
    if on <= season_days(season, settings.season_starts)[1]:
        wait = sentence(
            "Numbers of {season} are published some weeks after that season is over.", season=season
        )
        return SeasonSummary(settings.name, season, (wait,), ())
    days = histories.visits.day
    whole = season_table(histories, dates, on=max(on, day_of(int(days.max()))) if len(days) else on)
    if attempts is not None:
        whole = whole.take(attempts[whole.attempt])
    may = set(boxes)
    among = np.array([box in may for box in whole.boxes], bool)
    whole = whole.take(whole.rows[:, c.SEASON] <= season).of_boxes(among)
    table = whole.of_season(season)
    use = box_use(table, season=season, among=among)
    used = len(np.unique(table.rows[table.laid, c.BOX]))
    if used < LEAST_PUBLISHED:
        few = sentence(
            "In {season} fewer than {least:boxes} of {trail} held a nest with eggs: too few to "
            "publish more about them.",
            season=season,
            least=LEAST_PUBLISHED,
            trail=settings.name,
        )
        return SeasonSummary(settings.name, season, (few,), ())
    used_boxes = sentence(
        "In {season}, {used} of {boxes:boxes} of {trail} that were checked held a nest with "
        "eggs or young.",
        season=season,
        used=used,
        boxes=use.looked_into,
        trail=settings.name,
    )
    tables = (_species(table, histories.guide), _months(table), _seasons(whole, season))
    return SeasonSummary(settings.name, season, (used_boxes, *_outcome(table, whole)), tables)


def _outcome(table: SeasonTable, whole: SeasonTable) -> Iterator[Sentence]:
    counts = counts_of(table)
    # In tens alone: an exact number could be compared with those published of single cells,
    # to find the young of a nest that is not published.
    young = fledged_in_all(table, young_fledged(table)).estimate or 0.0
    tens = round(young / 10) * 10
    if counts.attempts >= LEAST_PUBLISHED and tens:
        yield sentence("About {young} young fledged.", young=tens)
    if min(counts.fledged, counts.failed) >= LEAST_PUBLISHED:
        yield sentence(
            "Of {n:nests} with a known outcome, {fledged} fledged young and {failed} were lost.",
            n=counts.known,
            fledged=counts.fledged,
            failed=counts.failed,
        )
    lengths = periods(whole)
    yield from on_success(survival_of(table, lengths).success, least=ENOUGH_NESTS)
    yield from _without_house_sparrows(table, lengths)


def _without_house_sparrows(table: SeasonTable, lengths: Periods | None) -> Iterator[Sentence]:
    """The same for all other species, where there are enough nests of both."""
    apart = without_house_sparrows(table, young_fledged(table))
    if apart is None or min(apart.nests, apart.counts.attempts) < LEAST_PUBLISHED:
        return
    others = table.take(np.array([name != HOUSE_SPARROW for name in table.species()], bool))
    wording = "{nests:nests} were of house sparrows, which people brought to many countries"
    values: dict[str, Value] = {"nests": apart.nests}
    tens = round((apart.young.estimate or 0.0) / 10) * 10
    if tens:
        wording += "; about {young} young of other species fledged"
        values["young"] = tens
    success = success_of(others, lengths)
    if success.estimate is not None and success.n >= ENOUGH_NESTS:
        wording += ", and a nest of theirs had a chance of about {chance:share} ({n:nests} watched)"
        values |= {"chance": success.estimate, "n": success.n}
    yield sentence(f"{wording}.", **values)


def merged(numbers: Mapping[str, int]) -> dict[str, int]:
    """Names with their numbers, the largest first; small ones are one, `OTHERS`.

    Where these together stay below `LEAST_PUBLISHED`, the next smallest joins them.

    Examples
    --------
    >>> merged({"tree swallow": 8, "house wren": 6, "eastern bluebird": 2})
    {'tree swallow': 8, 'other species': 8}
    """
    named = {
        name: n
        for name, n in sorted(numbers.items(), key=lambda item: (-item[1], item[0]))
        if n >= LEAST_PUBLISHED and name != OTHERS
    }
    rest = sum(numbers.values()) - sum(named.values())
    while named and 0 < rest < LEAST_PUBLISHED:
        rest += named.popitem()[1]
    return named | ({OTHERS: rest} if rest else {})


def _species(table: SeasonTable, guide: Guide) -> Sheet:
    laid = table.take(table.laid)
    names = [guide.known_name(name) or OTHERS for name in laid.species()]
    nests = merged(Counter(names))
    return Sheet("species", "Nests by species", "first", ("species", "nests"), tuple(nests.items()))


def _months(table: SeasonTable) -> Sheet:
    """First eggs by month; a month with few goes together with the next, or the one before."""
    begun = table.first_egg[table.laid]
    eggs = Counter((day.year, day.month) for day in map(day_of, begun[begun != c.MISSING].tolist()))
    spans: list[tuple[date, date, int]] = []
    for year, month in sorted(eggs):
        first, n = date(year, month, 1), eggs[year, month]
        if spans and spans[-1][2] < LEAST_PUBLISHED:
            spans[-1] = (spans[-1][0], first, spans[-1][2] + n)
        else:
            spans.append((first, first, n))
    if len(spans) > 1 and spans[-1][2] < LEAST_PUBLISHED:
        start, _, n = spans[-2]
        spans[-2:] = [(start, spans[-1][1], n + spans[-1][2])]
    rows = [
        (f"{a:%B}" if a == b else f"{a:%B} to {b:%B}", n)
        for a, b, n in spans
        if n >= LEAST_PUBLISHED
    ]
    return Sheet(
        "months", "When nests were begun", "laying", ("first egg in", "nests"), tuple(rows)
    )


def _seasons(whole: SeasonTable, season: int) -> Sheet:
    """The seasons up to this one with enough nests to publish."""
    rows: list[tuple[Cell, ...]] = []
    for year in sorted(set(whole.checked[:, 1].tolist())):
        table = whole.of_season(int(year))
        used = len(np.unique(table.rows[table.laid, c.BOX]))
        if used >= LEAST_PUBLISHED and year <= season:
            counts = counts_of(table)
            looked = np.union1d(table.checked[:, 0], table.rows[table.laid, c.BOX])
            rows.append((str(year), len(looked), used, counts.attempts))
    heads = ("season", "boxes checked", "boxes used", "nests")
    return Sheet("seasons", "Season by season", "years", heads, tuple(rows))
