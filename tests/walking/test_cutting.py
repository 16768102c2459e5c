"""All edges cut at once, against cutting one after the other."""

from __future__ import annotations

import numpy as np

from layers.walking.network.build import build_network
from layers.walking.network.cutting import cut_at
from layers.walking.network.plane import Plane
from tests.bench.rounds_plain import plain_cut
from tests.walking.parks import line, make_park


def test_cutting_all_edges_at_once_is_cutting_one_after_the_other() -> None:
    network, _ = build_network(
        [*make_park(2, boxes=5).lines(), line((900, 0), (950, 0), (990, 9), heights=[5, 7, 4])]
    )
    rng = np.random.default_rng(0)
    edge = rng.integers(-1, network.edges, 400)
    along = rng.uniform(0.0, 1.0, 400) * np.where(edge < 0, 0.0, network.length_m[edge])
    along[:40] = np.round(along[:40])  # several points of one edge at one place
    along[40:50] = 0.0
    along[50:60] = network.length_m[edge[50:60]]
    plane = Plane.around(network.vertex_lon, network.vertex_lat)
    (cut, node), (plain, plain_node) = (
        way(network, edge, along, plane) for way in (cut_at, plain_cut)
    )
    assert np.array_equal(node, plain_node)
    assert ((node < 0) == (edge < 0)).all()
    for name in ("u", "v", "line", "one_way"):
        assert np.array_equal(getattr(cut, name), getattr(plain, name)), name
    for name in ("lon", "lat", "height_m"):
        assert np.allclose(getattr(cut, name), getattr(plain, name), atol=1e-9, equal_nan=True)
    for name in ("length_m", "up_m", "down_m"):
        assert np.allclose(getattr(cut, name), getattr(plain, name), atol=1e-6), name


def test_without_points_the_network_stays_as_it_is() -> None:
    network, _ = build_network([line((0, 0), (100, 0))])
    cut, node = cut_at(network, np.array([-1]), np.array([0.0]), Plane(0.0, 0.0))
    assert cut is network
    assert node.tolist() == [-1]
