"""Nearest boxes among 100,000, one query at a time."""

from __future__ import annotations

import time

import numpy as np
from pyproj import Geod

from layers.walking.nearest import NearestBoxes
from tests.bench.clock import heading, line
from tests.many_boxes import many_boxes

QUERIES = 5_000
K = 5


def main() -> None:
    heading(f"Nearest {K} of 100,000 boxes, single queries")
    boxes, _ = many_boxes(100_000, seed=1)
    lon, lat = boxes.geometry.x.to_numpy(), boxes.geometry.y.to_numpy()
    tree = NearestBoxes(lon, lat)
    random = np.random.default_rng(2)
    chosen = random.integers(0, len(lon), QUERIES)
    points = np.c_[lon[chosen], lat[chosen]] + random.normal(0, 0.003, (QUERIES, 2))
    begun = time.perf_counter()
    found = [tree.query(x, y, k=K) for x, y in points]
    ours_s = (time.perf_counter() - begun) / QUERIES
    geod = Geod(ellps="WGS84")
    begun = time.perf_counter()
    plain = 30
    for (x, y), ours in zip(points[:plain], found, strict=False):
        _, _, distances = geod.inv(np.full(len(lon), x), np.full(len(lat), y), lon, lat)
        nearest = np.argsort(distances, kind="stable")[:K]
        assert nearest.tolist() == ours.position.tolist()
    plain_s = (time.perf_counter() - begun) / plain
    line("one query", ours_s, plain="geodesics to every box", plain_s=plain_s)
    print(f"  {1 / ours_s:,.0f} queries a second, the same boxes as all geodesics")


if __name__ == "__main__":
    main()
