"""The boxes nearest to a place, as records."""

from __future__ import annotations

import math
from typing import Any

from server.live.ground import Ground


def near(ground: Ground, *, lon: float, lat: float, k: int) -> list[dict[str, Any]]:
    """The `k` boxes nearest to a place, nearest first.

    Returns
    -------
    list of dict
        `box`, `distance_m` (to the millimetre), `bearing_deg` (None where the place
        is the box's own) and `direction` in words.
    """
    if not ground.placed:
        return []
    found = ground.nearest.query(lon, lat, k=k)
    return [
        {
            "box": ground.placed[position],
            "distance_m": round(distance_m, 3),
            "bearing_deg": None if math.isnan(bearing_deg) else round(bearing_deg, 3) % 360,
            "direction": direction,
        }
        for position, distance_m, bearing_deg, direction in zip(
            found.position.tolist(),
            found.distance_m.tolist(),
            found.bearing_deg.tolist(),
            found.direction,
            strict=True,
        )
    ]
