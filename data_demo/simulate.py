"""A seeded simulator of nests: true stories of boxes, and the visits people wrote down.

Shares no code with what reads histories from visits, so that it can judge it.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from random import Random
from zoneinfo import ZoneInfo

from data_demo.biology import BIOLOGY, OPEN_COUNTRY
from data_demo.chance import season_by_chance
from data_demo.hard_cases import HARD_CASES
from data_demo.nest import Plan, TrueAttempt
from data_demo.observers import OBSERVERS, Observer
from data_demo.plans import day_in, day_number
from data_demo.records import Round, Row, box_records
from data_demo.story import BoxStory
from layers.errors import BadValue

# A season of visits: first round about 15 March, no round after 20 August.
_FIRST_ROUND = (3, 15)
_LAST_ROUND = (8, 20)
_SEASON_ENDS = (8, 31)

# Boxes that one person walks in a morning.
_BOXES_A_ROUND = 15


@dataclass(frozen=True)
class Season:
    """A made season.

    Attributes
    ----------
    visits
        Rows in whole words with the keys of `records.VISIT_COLUMNS`, in the order they were
        entered; None where nothing was written.
    truth
        What truly happened, by box in the order given and then by day; a box that was
        never visited has its truth too.
    cases
        The hard case of each box that has one.
    """

    visits: tuple[Row, ...]
    truth: tuple[TrueAttempt, ...]
    cases: Mapping[str, str]


def deal_cases(
    boxes: Sequence[str], *, seed: int, share: float = 0.3, cases: Sequence[str] = tuple(HARD_CASES)
) -> dict[str, str]:
    """A hard case for a share of the boxes, dealt out so that each case comes up in turn.

    With at least `len(cases)` boxes in the share every case occurs.
    """
    random = Random(seed)
    chosen = random.sample(list(boxes), round(share * len(boxes)))
    order = random.sample(list(cases), len(cases))
    return {box: order[i % len(order)] for i, box in enumerate(chosen)}


def simulate_season(
    boxes: Sequence[str],
    *,
    year: int,
    seed: int,
    species_mix: Mapping[str, float] = OPEN_COUNTRY,
    cases: Mapping[str, str] | None = None,
    interval_days: int = 7,
    missed: float = 0.05,
    observers: Sequence[Observer] = OBSERVERS,
    until: date | None = None,
    timezone: str = "America/New_York",
    shaped: Callable[[Plan], Plan] = lambda plan: plan,
    empty: Collection[str] = (),
) -> Season:
    """One season of nests in boxes, and of visits to them. Same seed, same answer.

    Parameters
    ----------
    species_mix
        Species of `BIOLOGY` and how often each takes a box; weights, any total.
    cases
        Box -> a name of `HARD_CASES`; other boxes are left to chance. See `deal_cases`.
    interval_days
        Days between two rounds; each round shifts by up to a day.
    missed
        Chance that a box is left out of a round.
    until
        Last day of the season; None = 31 August. Nests not over by then are ongoing.
    shaped
        What is made of each nest drawn, before anything befalls it: to try other birds.
    empty
        Boxes in which no bird begins a nest.

    Raises
    ------
    BadValue
        A species or a case that the simulator does not know.
    """
    cases = cases or {}
    _expect_known(species_mix, BIOLOGY, "species_mix")
    _expect_known(cases.values(), HARD_CASES, "cases")
    zone = ZoneInfo(timezone)
    last_day = day_in(year, _SEASON_ENDS) if until is None else day_number(until)
    visits: list[Row] = []
    truth: list[TrueAttempt] = []
    for start in range(0, len(boxes), _BOXES_A_ROUND):
        walked = boxes[start : start + _BOXES_A_ROUND]
        random = Random(f"{seed}/{year}/{walked[0]}")
        rounds = _rounds(
            year, interval_days=interval_days, last_day=last_day, observers=observers, random=random
        )
        for place, box in enumerate(walked):
            kept = [day for day in rounds if random.random() >= missed]
            story = BoxStory(
                box,
                season=year,
                until=last_day,
                rounds=kept,
                species_mix=species_mix,
                random=random,
                shaped=shaped,
            )
            case = cases.get(box)
            if box not in empty:
                (season_by_chance if case is None else HARD_CASES[case])(story)
            truth += story.truth
            visits += box_records(
                story, case=case, rounds=rounds, place=place, observers=observers, zone=zone
            )
    visits.sort(key=lambda row: row["entered_at"])
    return Season(tuple(visits), tuple(truth), dict(cases))


def _rounds(
    year: int, *, interval_days: int, last_day: int, observers: Sequence[Observer], random: Random
) -> dict[int, Round]:
    """The rounds of one group of boxes, by day, ascending."""
    rounds = {}
    day = day_in(year, _FIRST_ROUND) + random.randrange(interval_days)
    while day <= min(last_day, day_in(year, _LAST_ROUND)):
        shifted = day + random.choices((-1, 0, 1), (1, 4, 1))[0]
        start_minute = random.randint(7 * 60 + 30, 10 * 60)
        rounds[min(shifted, last_day)] = Round(random.choice(observers), start_minute)
        day += interval_days
    return rounds


def _expect_known(given: Iterable[str], known: Iterable[str], column: str) -> None:
    for name in given:
        if name not in known:
            raise BadValue(f"one of {', '.join(known)}", repr(name), column=column)
