"""Seasons thrown by dice, with the visits that a keeper writes down, to judge numbers by.

Shares no code and no figure with what estimates survival: true stories of nests, then one row of
raw cells a visit. One species alone, so that a season of 60 boxes says something.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from random import Random
from typing import Any

SPECIES = "eastern bluebird"
YEAR = 2025
CLOSED_FROM_AGE, CLOSED_TO_AGE = 12, 21


@dataclass(frozen=True)
class Keeper:
    """How nests are looked into, and what is written down.

    Attributes
    ----------
    closed
        Boxes stay closed from the 12th day of the young until they must have left.
    leaving, losses
        Chance that signs are written down after young left, and after a loss.
    wrong
        Chance that a sign written down speaks for the other end.
    """

    interval_days: int = 7
    closed: bool = False
    leaving: float = 0.6
    losses: float = 0.4
    wrong: float = 0.0


@dataclass(frozen=True)
class Nature:
    """How nests fare.

    Attributes
    ----------
    with_eggs, with_young
        Chance a day that the whole nest is lost.
    late_ratio
        How many times as high the risk of young is from their 10th day on.
    spread
        Standard deviation, among boxes, of the logarithm of their risk.
    partial
        Chance a day that one young dies alone.
    guarded, guard_ratio
        Share of boxes with a guard, and what their risk is of that of others.
    """

    with_eggs: float = 0.012
    with_young: float = 0.010
    late_ratio: float = 1.0
    spread: float = 0.0
    partial: float = 0.0
    guarded: float = 0.0
    guard_ratio: float = 1.0


AS_ASSUMED: Mapping[str, tuple[Keeper, Nature]] = {
    "boxes opened always, signs 60/40": (Keeper(), Nature()),
    "closed days, signs 60/40": (Keeper(closed=True), Nature()),
    "closed days, signs 30/30": (Keeper(closed=True, leaving=0.3, losses=0.3), Nature()),
    "closed days, no signs": (Keeper(closed=True, leaving=0.0, losses=0.0), Nature()),
    "closed days, every 4 days": (Keeper(closed=True, interval_days=4), Nature()),
    "closed days, every 10 days": (Keeper(closed=True, interval_days=10), Nature()),
}
"""What keepers do while nature does as the model assumes."""

NOT_ASSUMED: Mapping[str, tuple[Keeper, Nature]] = {
    "closed days, 10 % wrong signs": (Keeper(closed=True, wrong=0.1), Nature()),
    "closed days, young lost 1 % a day": (Keeper(closed=True), Nature(partial=0.01)),
    "closed days, boxes that differ": (Keeper(closed=True), Nature(spread=0.7)),
    "closed days, late risk x 3": (Keeper(closed=True), Nature(late_ratio=3.0)),
    "closed days, late risk / 3": (Keeper(closed=True), Nature(late_ratio=1 / 3)),
}
"""What the model does not assume; intervals of rates are held against the risk of the first
days."""

ROWS = {**AS_ASSUMED, **NOT_ASSUMED}


@dataclass
class Nest:
    """The truth of one nest; `hatch` and `leaves` are the days on which it would, had it lived."""

    box: str
    first_egg: int
    clutch: int
    hatch: int
    leaves: int
    end: int
    fledged: bool
    deserted: bool
    young_by_age: list[int]
    egg_days: list[int] = field(default_factory=list)
    signs: str | None = None
    dead: int = 0

    @property
    def young_fledged(self) -> int:
        return self.young_by_age[-1] if self.fledged else 0


@dataclass(frozen=True)
class RawSeason:
    """Rows of raw cells, and the truth behind them; `guarded` names the boxes with a guard."""

    boxes: tuple[str, ...]
    visits: tuple[dict[str, Any], ...]
    nests: tuple[Nest, ...]
    guarded: frozenset[str]

    def of(self, boxes: frozenset[str]) -> RawSeason:
        """The same season in some boxes alone."""
        return RawSeason(
            tuple(box for box in self.boxes if box in boxes),
            tuple(row for row in self.visits if row["box"] in boxes),
            tuple(nest for nest in self.nests if nest.box in boxes),
            self.guarded & boxes,
        )

    def found(self) -> list[Nest]:
        """The nests in which a look found living eggs or young."""
        days: dict[str, list[int]] = {}
        for row in self.visits:
            if row["opened"] == "yes":
                days.setdefault(row["box"], []).append(row["seen_on"].toordinal())
        return [
            nest
            for nest in self.nests
            if any(nest.first_egg <= day < nest.end for day in days.get(nest.box, ()))
        ]

    def all_seeing_success(self) -> float:
        """What one who saw every nest every day would call success."""
        exposure, losses = [0, 0], [0, 0]
        for nest in self.nests:
            exposure[0] += min(nest.end, nest.hatch) - nest.first_egg
            exposure[1] += max(nest.end - nest.hatch, 0)
            losses[0] += not nest.fledged and nest.end <= nest.hatch
            losses[1] += not nest.fledged and nest.end > nest.hatch
        lengths = (
            sum(nest.hatch - nest.first_egg for nest in self.nests) / len(self.nests),
            sum(nest.leaves - nest.hatch for nest in self.nests) / len(self.nests),
        )
        success = 1.0
        for lost, days, length in zip(losses, exposure, lengths, strict=True):
            success *= (1 - lost / max(days, 1)) ** length
        return success


def raw_season(
    seed: int, *, boxes: int = 60, keeper: Keeper | None = None, nature: Nature | None = None
) -> RawSeason:
    """One season; same seed, same answer."""
    keeper, nature = keeper or Keeper(), nature or Nature()
    random = Random(f"raw season {seed}")
    ids = tuple(f"R{number:03d}" for number in range(boxes))
    guarded = frozenset(box for box in ids if random.random() < nature.guarded)
    nests: list[Nest] = []
    visits: list[dict[str, Any]] = []
    for box in ids:
        risk = math.exp(random.gauss(0, nature.spread) - nature.spread**2 / 2)
        risk *= nature.guard_ratio if box in guarded else 1.0
        own = list(_nests(box, random, nature, risk))
        nests += own
        visits += _visits(box, own, random, keeper)
    return RawSeason(ids, tuple(visits), tuple(nests), guarded)


def _nests(box: str, random: Random, nature: Nature, risk: float) -> Iterator[Nest]:
    first = dt.date(YEAR, 4, 12).toordinal() + random.randrange(30)
    if random.random() < 0.15:
        return
    for chance_of_next in (0.55, 0.25, 0.0):
        nest = _nest(box, first, random, nature, risk)
        yield nest
        if random.random() > chance_of_next:
            return
        first = nest.end + random.randint(8, 20)


def _nest(box: str, first: int, random: Random, nature: Nature, risk: float) -> Nest:
    clutch = random.choices((3, 4, 5, 6), (1, 4, 5, 1))[0]
    egg_days = [first]
    while len(egg_days) < clutch:
        egg_days.append(egg_days[-1] + (1 if random.random() < 0.95 else 2))
    hatch = egg_days[-1] + random.randint(12, 14)
    leaves = hatch + random.choices(range(16, 21), (1, 3, 4, 3, 1))[0]
    brood = max(sum(random.random() < 0.92 for _ in range(clutch)), 1)
    day, fledged = first, True
    young_by_age = [brood]
    while day < leaves:
        day += 1
        hazard = nature.with_eggs if day <= hatch else nature.with_young
        if day - hatch > 10:
            hazard *= nature.late_ratio
        if random.random() < min(hazard * risk, 0.9):
            fledged = False
            break
        if day > hatch:
            lost = sum(random.random() < nature.partial for _ in range(young_by_age[-1]))
            young_by_age.append(max(young_by_age[-1] - lost, 1))
    deserted = not fledged and day <= hatch and random.random() < 0.2
    return Nest(box, first, clutch, hatch, leaves, day, fledged, deserted, young_by_age, egg_days)


def _visits(
    box: str, nests: Sequence[Nest], random: Random, keeper: Keeper
) -> Iterator[dict[str, Any]]:
    day = dt.date(YEAR, 4, 1).toordinal() + random.randrange(keeper.interval_days)
    last = dt.date(YEAR, 9, 10).toordinal()
    judged_hatch: dict[int, int] = {}
    cleaned: set[int] = set()
    while day <= last:
        shifted = day + random.choice((-1, 0, 0, 0, 1))
        day += keeper.interval_days
        if random.random() < 0.07:
            continue
        begun = [at for at, nest in enumerate(nests) if nest.first_egg - 6 <= shifted]
        at = begun[-1] if begun else -1
        row = _row(box, shifted)
        if at < 0:
            yield row | {"nest": "none", "eggs": 0, "young": 0}
            continue
        nest = nests[at]
        hatched = judged_hatch.get(at)
        if (
            keeper.closed
            and hatched is not None
            and at not in cleaned
            and CLOSED_FROM_AGE <= shifted - hatched <= CLOSED_TO_AGE
        ):
            feeds = shifted < nest.end and random.random() < 0.5
            yield row | {"opened": "no", "adult": "feeding" if feeds else "none"}
            continue
        row |= {"species": SPECIES}
        if shifted < nest.first_egg:
            yield row | {"nest": "shaped cup", "eggs": 0, "young": 0}
        elif shifted < nest.end:
            yield row | _alive(nest, shifted, random, judged_hatch, at)
        elif nest.deserted and at not in cleaned:
            cold = sum(one <= min(nest.end, shifted) for one in nest.egg_days)
            if shifted > nest.end + 14:
                cleaned.add(at)
                yield row | {"eggs": 0, "young": 0, "actions": "cleaned"}
            else:
                yield row | {"eggs": cold, "eggs_warm": "no"}
        else:
            signs = None
            if at not in cleaned:
                signs = _signs(nest, random, keeper)
            cleaned.add(at)
            yield (
                row
                | {"species": None, "eggs": 0, "young": 0, "actions": "cleaned"}
                | ({"signs": signs} if signs else {})
            )


def _alive(
    nest: Nest, day: int, random: Random, judged_hatch: dict[int, int], at: int
) -> dict[str, Any]:
    if day < nest.hatch:
        eggs = sum(one <= day for one in nest.egg_days)
        sat_on = day >= nest.egg_days[-1]
        return {"nest": "lined cup", "eggs": eggs} | (
            {"eggs_warm": "yes"} if sat_on and random.random() < 0.5 else {}
        )
    age = day - nest.hatch
    judged = max(age + random.choice((-1, 0, 0, 1)), 0)
    judged_hatch.setdefault(at, day - judged)
    return {"young": nest.young_by_age[age], "eggs": 0} | (
        {"young_days": judged} if random.random() < 0.75 else {}
    )


def _signs(nest: Nest, random: Random, keeper: Keeper) -> str | None:
    written = random.random() < (keeper.leaving if nest.fledged else keeper.losses)
    if not written:
        return None
    wrong = random.random() < keeper.wrong
    return "flattened;droppings" if nest.fledged != wrong else "nest torn"


def _row(box: str, day: int) -> dict[str, Any]:
    on = dt.date.fromordinal(day)
    return {
        "box": box,
        "seen_on": on,
        "entered_at": dt.datetime.combine(on, dt.time(20), dt.UTC),
        "visit_id": f"{box} {on}",
        "opened": "yes",
    }
