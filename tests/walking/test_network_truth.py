"""Generated parks with known distances, and four ways to make a network of them."""

from __future__ import annotations

import warnings
from collections.abc import Callable, Mapping, Sequence
from types import MappingProxyType

import geopandas as gpd
import momepy
import numpy as np
import pytest
import shapely
from numpy.typing import NDArray

from layers.walking.distances import Walking
from layers.walking.network.attach import attach
from layers.walking.network.build import build_network
from layers.walking.network.tracks import TOLERANCE_M
from layers.walking.pace import Flat
from tests.walking.parks import PLANE, Park, distances_m, make_park

Floats = NDArray[np.float64]
SEEDS = range(12)
BOXES = 30


def ours(park: Park) -> Floats:
    network, _ = build_network(park.lines())
    return Walking(attach(network, park.sites()), Flat()).length_m


def drawn(park: Park) -> list[shapely.LineString]:
    return [shapely.LineString(xy) for xy in (*park.drawn, park.drawn_bridge)]


def ends_only(park: Park) -> Floats:
    return distances_m(drawn(park), park.boxes)


def by_shapely(park: Park) -> Floats:
    noded = shapely.node(shapely.multilinestrings(drawn(park)))
    return distances_m(list(shapely.get_parts(noded)), park.boxes)


def by_momepy(park: Park) -> Floats:
    lines = gpd.GeoSeries(drawn(park))
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", FutureWarning)  # momepy means to move this function
        extended = momepy.extend_lines(gpd.GeoDataFrame(geometry=lines), tolerance=3.5)
    noded = shapely.node(shapely.multilinestrings(list(extended.geometry)))
    return distances_m(list(shapely.get_parts(noded)), park.boxes)


WAYS: Mapping[str, Callable[[Park], Floats]] = MappingProxyType(
    {"own": ours, "ends only": ends_only, "shapely.node": by_shapely, "momepy": by_momepy}
)


def shares(way: Callable[[Park], Floats], seeds: Sequence[int] = SEEDS) -> Mapping[str, float]:
    """Shares of pairs of boxes that are right within 1 %, too long, too short, unreachable."""
    ratios = []
    for seed in seeds:
        park = make_park(seed, boxes=BOXES)
        pairs = np.triu_indices(BOXES, k=1)
        truth = park.truth_m()[pairs]
        assert np.isfinite(truth).all()
        ratios.append(way(park)[pairs] / truth)
    ratio = np.concatenate(ratios)
    return {
        "right": float((np.abs(ratio - 1.0) <= 0.01).mean()),
        "long": float((ratio > 1.01).mean()),
        "short": float((ratio < 0.99).mean()),
        "unreachable": float(np.isinf(ratio).mean()),
    }


def test_distances_are_true_within_one_per_cent_for_nearly_every_pair() -> None:
    assert shares(ours)["right"] >= 0.995


def test_every_box_can_be_reached_and_no_network_falls_apart() -> None:
    for seed in SEEDS:
        _, report = build_network(make_park(seed, boxes=BOXES).lines())
        assert len(report.parts) == 1


@pytest.mark.parametrize("other", ["ends only", "shapely.node", "momepy"])
def test_other_ways_to_make_a_network_are_less_true(other: str) -> None:
    assert shares(WAYS[other], range(4))["right"] < shares(ours, range(4))["right"]


def test_the_footbridge_is_joined_to_no_path_below_it() -> None:
    for seed in SEEDS:
        park = make_park(seed, boxes=BOXES)
        _, report = build_network(park.lines())
        landings = park.drawn_bridge[[0, -1]]
        for join in (*report.crossings, *report.ends):
            if "Footbridge" in join.names:
                away = np.linalg.norm(PLANE.xy(join.lon, join.lat) - landings, axis=1)
                assert away.min() <= TOLERANCE_M


def test_no_more_ends_are_joined_than_stop_short() -> None:
    for seed in SEEDS:
        park = make_park(seed, boxes=BOXES)
        _, report = build_network(park.lines())
        clean, lines = (*park.clean, park.bridge), (*park.drawn, park.drawn_bridge)
        short = sum(
            not np.array_equal(true[end], line[end])
            for true, line in zip(clean, lines, strict=True)
            for end in (0, -1)
        )
        # Ends that meet in one place may be tied together by fewer joins than there are ends.
        assert short - 2 <= len(report.ends) <= short
        assert max(join.gap_m for join in report.ends) <= TOLERANCE_M + 1e-6
