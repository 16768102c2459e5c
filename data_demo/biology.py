"""What the simulator knows about birds: a table of its own, apart from the guide.

Clutch, incubation and nestling days lie inside published ranges; the lower bound of
`nestling_days` is the shortest published one, so that "lost before any young could
leave" has one meaning. Sources, by species:

- Ehrlich, Dobkin & Wheye 1988, The Birder's Handbook (tree swallow, house wren,
  white-breasted nuthatch);
- Myhrvold et al. 2015, Ecology 96:3109 (means of all eight; the white-breasted
  nuthatch's 14.5 nestling days, and its remark that other sources go to 26);
- Wikipedia's account, read in a copy (nestling days of the eastern bluebird);
- textbook ranges from memory (eastern bluebird, black-capped chickadee, tufted
  titmouse, great crested flycatcher, house sparrow).

Calendar, building days and the chance of another brood are invented so that a made
season looks like one in the north-east of North America. `closed_from_days` is field
practice from memory: the age from which a careful person leaves the box shut.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType


@dataclass(frozen=True, slots=True)
class Biology:
    """How one species nests.

    Attributes
    ----------
    first_egg, first_egg_spread_days
        Month and day on which first clutches begin on average, and the standard deviation.
    last_start
        Month and day after which no clutch is begun.
    clutch, clutch_limits
        Usual and extreme number of eggs, lowest and highest.
    incubation_days
        Last egg to first hatching, shortest and longest.
    sits_early
        Whether sitting begins before the last egg, so that hatching spreads.
    nestling_days
        First hatching to leaving: shortest, usual, longest.
    closed_from_days
        Age of the young from which careful people do not open the box.
    building_days
        First material to first egg, shortest and longest.
    again
        Chance of another brood after one that fledged.
    takes_over
        Whether it throws other birds out of a box.
    """

    species: str
    first_egg: tuple[int, int]
    first_egg_spread_days: float
    last_start: tuple[int, int]
    clutch: tuple[int, int]
    clutch_limits: tuple[int, int]
    incubation_days: tuple[int, int]
    nestling_days: tuple[int, int, int]
    closed_from_days: int
    building_days: tuple[int, int]
    again: float
    sits_early: bool = False
    takes_over: bool = False


_ALL = (
    Biology(
        species="eastern bluebird",
        first_egg=(4, 22),
        first_egg_spread_days=9,
        last_start=(7, 15),
        clutch=(4, 5),
        clutch_limits=(3, 7),
        incubation_days=(12, 14),
        nestling_days=(15, 18, 20),
        closed_from_days=13,
        building_days=(4, 12),
        again=0.6,
    ),
    Biology(
        species="tree swallow",
        first_egg=(5, 12),
        first_egg_spread_days=7,
        last_start=(6, 20),
        clutch=(4, 6),
        clutch_limits=(3, 7),
        incubation_days=(13, 16),
        nestling_days=(16, 20, 24),
        closed_from_days=13,
        building_days=(6, 16),
        again=0.0,
        takes_over=True,
    ),
    Biology(
        species="house wren",
        first_egg=(5, 24),
        first_egg_spread_days=9,
        last_start=(7, 20),
        clutch=(6, 8),
        clutch_limits=(5, 9),
        incubation_days=(13, 14),
        nestling_days=(12, 16, 18),
        closed_from_days=11,
        building_days=(5, 12),
        again=0.45,
        sits_early=True,
        takes_over=True,
    ),
    Biology(
        species="black-capped chickadee",
        first_egg=(5, 3),
        first_egg_spread_days=6,
        last_start=(6, 20),
        clutch=(6, 8),
        clutch_limits=(4, 10),
        incubation_days=(12, 13),
        nestling_days=(14, 16, 18),
        closed_from_days=11,
        building_days=(5, 12),
        again=0.0,
    ),
    Biology(
        species="tufted titmouse",
        first_egg=(4, 30),
        first_egg_spread_days=7,
        last_start=(6, 20),
        clutch=(5, 6),
        clutch_limits=(3, 9),
        incubation_days=(12, 14),
        nestling_days=(15, 17, 18),
        closed_from_days=11,
        building_days=(6, 12),
        again=0.05,
    ),
    Biology(
        species="house sparrow",
        first_egg=(4, 20),
        first_egg_spread_days=12,
        last_start=(7, 20),
        clutch=(4, 5),
        clutch_limits=(2, 7),
        incubation_days=(10, 13),
        nestling_days=(14, 15, 17),
        closed_from_days=12,
        building_days=(4, 12),
        again=0.6,
        sits_early=True,
        takes_over=True,
    ),
    Biology(
        species="white-breasted nuthatch",
        first_egg=(4, 24),
        first_egg_spread_days=6,
        last_start=(5, 31),
        clutch=(6, 8),
        clutch_limits=(3, 10),
        incubation_days=(12, 13),
        nestling_days=(14, 18, 24),
        closed_from_days=12,
        building_days=(6, 12),
        again=0.0,
    ),
    Biology(
        species="great crested flycatcher",
        first_egg=(5, 28),
        first_egg_spread_days=6,
        last_start=(6, 30),
        clutch=(4, 6),
        clutch_limits=(4, 8),
        incubation_days=(13, 15),
        nestling_days=(12, 15, 18),
        closed_from_days=11,
        building_days=(4, 10),
        again=0.0,
    ),
)

BIOLOGY: Mapping[str, Biology] = MappingProxyType({bird.species: bird for bird in _ALL})
"""The species of the simulator by common name in lower case."""

OPEN_COUNTRY: Mapping[str, float] = MappingProxyType(
    {
        "eastern bluebird": 36.0,
        "tree swallow": 28.0,
        "house wren": 12.0,
        "black-capped chickadee": 8.0,
        "tufted titmouse": 4.0,
        "house sparrow": 8.0,
        "white-breasted nuthatch": 2.0,
        "great crested flycatcher": 2.0,
    }
)
"""How often each species takes a box of a trail through farmland; weights, any total."""
