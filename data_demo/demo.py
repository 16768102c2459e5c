"""What the demo trail holds: the reserve and four seasons of visits to its boxes."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from data_demo.hard_cases import HARD_CASES
from data_demo.records import Row
from data_demo.reserve import SECTIONS, Reserve, read_reserve
from data_demo.simulate import Season, deal_cases, simulate_season

SEED = 20
YEARS = (2023, 2024, 2025, 2026)
TIMEZONE = "America/New_York"

# Month and day by which a box must stand to be visited in a season.
_STANDS_BY = (3, 15)

# With the nest material of 2026, two seasons without an egg: a box for the winter list.
_EMPTY = {2025: ("O15",)}


@dataclass(frozen=True)
class Demo:
    """The invented trail. `seasons` holds one made season a section and year."""

    reserve: Reserve
    seasons: tuple[Season, ...]

    def visits(self) -> list[Row]:
        """Visit rows of all seasons in the order they were entered."""
        rows = [row for season in self.seasons for row in season.visits]
        return sorted(rows, key=lambda row: row["entered_at"])


def make_demo(*, seed: int = SEED) -> Demo:
    """The demo trail with every hard case once a year. Same seed, same trail."""
    reserve = read_reserve()
    return Demo(reserve, tuple(_seasons(reserve, seed)))


def _seasons(reserve: Reserve, seed: int) -> Iterator[Season]:
    for year in YEARS:
        stands = [box for box in reserve.boxes if _stands(box, date(year, *_STANDS_BY))]
        ids = [box["box"] for box in stands]
        cases = deal_cases(ids, seed=seed + year, share=len(HARD_CASES) / len(ids))
        for section in SECTIONS:
            boxes = [box["box"] for box in stands if box["section"] == section.name]
            yield simulate_season(
                boxes,
                year=year,
                seed=seed,
                species_mix=section.species_mix,
                cases={box: cases[box] for box in boxes if box in cases},
                timezone=TIMEZONE,
                empty=_EMPTY.get(year, ()),
            )


def _stands(box: Row, on: date) -> bool:
    removed_on = box["removed_on"]
    return box["installed_on"] <= on and (removed_on is None or on < removed_on)
