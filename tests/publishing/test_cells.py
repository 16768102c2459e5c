"""The public grid: fixed, the same for every look, and honest about how coarse it is."""

from __future__ import annotations

from itertools import pairwise

import pyproj
import pytest
from hypothesis import given
from hypothesis import strategies as st

from layers.publishing.cells import OWN_UNCERTAINTY_M, GridCell, cell_of
from layers.trail.public_rules import CELLS_DEG

GEOD = pyproj.Geod(ellps="WGS84")
lons = st.floats(-180, 180)
lats = st.floats(-90, 90)
sizes = st.sampled_from(CELLS_DEG)


@pytest.mark.parametrize(
    ("size_deg", "lat", "metres"),
    [
        # Centre to the corner nearer the equator, computed with geographiclib 2.1 for a
        # middle at exactly this latitude; a cell's middle is half a cell off.
        (0.1, 0, 7845.17),
        (0.1, 45, 6814.03),
        (0.1, 60, 6231.16),
        (0.01, 30, 734.82),
        (0.01, 52, 653.79),
        (0.001, 45, 68.13),
        (0.001, 60, 62.30),
    ],
)
def test_the_uncertainty_is_that_of_the_corner_nearer_the_equator(
    size_deg: float, lat: float, metres: float
) -> None:
    cell = cell_of(7.0, lat, size_deg=size_deg)
    assert cell.uncertainty_m - OWN_UNCERTAINTY_M == pytest.approx(metres, rel=0.001, abs=1)


@given(lon=lons, lat=lats, size_deg=sizes)
def test_every_place_is_within_the_uncertainty_of_its_cell(
    lon: float, lat: float, size_deg: float
) -> None:
    cell = cell_of(lon, lat, size_deg=size_deg)
    _, _, metres = GEOD.inv(cell.lon, cell.lat, lon, lat)
    assert metres <= cell.uncertainty_m - OWN_UNCERTAINTY_M + 0.1


@given(lon=lons, lat=lats, size_deg=sizes)
def test_the_middle_of_a_cell_is_in_that_cell(lon: float, lat: float, size_deg: float) -> None:
    cell = cell_of(lon, lat, size_deg=size_deg)
    assert cell_of(cell.lon, cell.lat, size_deg=size_deg) == cell
    assert -180 < cell.lon < 180
    assert -90 < cell.lat < 90


@given(lon=lons, lat=lats)
def test_a_coarser_cell_holds_the_finer_ones_whole(lon: float, lat: float) -> None:
    for fine, coarse in pairwise(CELLS_DEG):
        inner = cell_of(lon, lat, size_deg=fine)
        outer = cell_of(lon, lat, size_deg=coarse)
        assert cell_of(inner.lon, inner.lat, size_deg=coarse) == outer


def test_the_date_line_is_one_line() -> None:
    assert cell_of(180.0, 10, size_deg=0.1) == cell_of(-180.0, 10, size_deg=0.1)


def test_a_cell_is_named_after_its_middle_and_size() -> None:
    assert cell_of(-77.9051, 42.6, size_deg=0.01).name == "42.605N-77.905W-0.01"
    assert cell_of(7.0004, -33.0001, size_deg=0.001).name == "33.0005S-7.0005E-0.001"
    assert GridCell(1.0, 51, -3).name == "51.5N-2.5W-1"
