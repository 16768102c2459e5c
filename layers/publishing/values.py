"""What the public may see, as values that hold nothing else.

Every public page, file and call is made from a `PublicView` and from nothing besides.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import shapely


@dataclass(frozen=True)
class Cell:
    """One cell of the fixed grid, and the numbers of boxes and nests in it: one symbol.

    Attributes
    ----------
    cell
        Its id, which never changes: middle and size, such as `42.645N-77.955W-0.01`.
    lon, lat
        The middle of the cell.
    size_deg
        Its width and height in degrees.
    uncertainty_m
        Metres from the middle within which every box of the cell is.
    boxes
        Boxes in place on the day of the release.
    nested
        Boxes with a published nest this season.
    in_use
        Boxes with a nest not published yet; None where the trail withholds that.
    nests
        Published nests of all seasons.
    species
        Of those nests, sorted.
    """

    cell: str
    lon: float
    lat: float
    size_deg: float
    uncertainty_m: int
    boxes: int
    nested: int
    in_use: int | None
    nests: int
    species: tuple[str, ...]

    @property
    def bounds(self) -> tuple[float, float, float, float]:
        """West, south, east, north."""
        half = self.size_deg / 2
        west, south, east, north = (
            round(edge, 4)
            for edge in (self.lon - half, self.lat - half, self.lon + half, self.lat + half)
        )
        return west, south, east, north

    @property
    def footprint(self) -> shapely.Polygon:
        return shapely.box(*self.bounds)


@dataclass(frozen=True)
class Nest:
    """One finished nest with eggs or young, published after its delay.

    Attributes
    ----------
    nest
        Its public identifier: a uuid that lasts, and that no nest of another trail has.
    cell
        The id of its cell.
    species
        As the guide calls it; None = not recorded, or not in the guide.
    ended
        The month in which it ended, such as `2026-05`.
    fate
        fledged, failed or unknown.
    eggs, young, fledged
        Most eggs and most young counted, and young that left; None = not counted, or
        too few nests in the cell and season to publish numbers.
    """

    nest: str
    cell: str
    season: int
    species: str | None
    ended: str
    fate: str
    eggs: int | None
    young: int | None
    fledged: int | None


@dataclass(frozen=True)
class Path:
    """A released path that is open to all, without its dead ends."""

    name: str | None
    kind: str | None
    line: shapely.LineString


@dataclass(frozen=True)
class Place:
    """A released start or landmark; never a hazard."""

    name: str | None
    kind: str
    lon: float
    lat: float


@dataclass(frozen=True)
class Zone:
    """A released habitat, building or water; never one to keep out of."""

    name: str | None
    kind: str
    area: shapely.Polygon


@dataclass(frozen=True)
class Bird:
    """What the guide says of a species with published nests; blank where it says nothing."""

    name: str
    scientific: str
    nest: str
    eggs: str


@dataclass(frozen=True)
class PublicView:
    """All that the public may see of a trail in a month.

    Attributes
    ----------
    trail
        Its public name.
    region, contact
        What the keeper wrote of where it is and who to ask; None = nothing.
    released_on
        The first day of the month.
    season
        The season of that day.
    published_until
        Nests that ended up to this day are published.
    cell_deg
        The size of the squares.
    reach_m
        Where one square stands for the whole trail: a round length that no two boxes are
        farther apart than. None where each box has its own square.
    generalised, withheld
        In sentences: what is published less exactly than it is known; what is not published.
        They follow from the trail's rules alone, so they reveal no box.
    licence
        The terms under which the data may be used; None = none named.
    identifier
        The trail's public identifier: a uuid; empty in a release of an older program.
    """

    trail: str
    region: str | None
    contact: str | None
    released_on: date
    season: int
    published_until: date
    cell_deg: float
    reach_m: int | None
    cells: tuple[Cell, ...]
    nests: tuple[Nest, ...]
    birds: tuple[Bird, ...]
    paths: tuple[Path, ...]
    places: tuple[Place, ...]
    zones: tuple[Zone, ...]
    generalised: tuple[str, ...]
    withheld: tuple[str, ...]
    licence: str | None
    identifier: str = ""

    @property
    def statements(self) -> tuple[str, ...]:
        """All sentences, to be shown with the data."""
        return self.generalised + self.withheld
