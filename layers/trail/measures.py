"""Lengths as people of a trail read them: stored metric, shown metric or US."""

from __future__ import annotations

MM_PER_INCH = 25.4
M_PER_FOOT = 0.3048
M_PER_MILE = 1609.344
"""Exact by definition (international yard and pound agreement, 1959)."""


def format_mm(value_mm: float, units: str) -> str:
    """A box measure: `38 mm`, or in inches to the sixteenth, `1 1/2 in`."""
    if units != "us":
        return f"{value_mm:g} mm"
    sixteenths = round(value_mm / MM_PER_INCH * 16)
    whole, part = divmod(sixteenths, 16)
    if part == 0:
        return f"{whole} in"
    over = 16
    while part % 2 == 0:
        part, over = part // 2, over // 2
    return f"{f'{whole} ' if whole else ''}{part}/{over} in"


def format_height(value_m: float, units: str) -> str:
    """A height above ground: `1.5 m`, or `4.9 ft`."""
    return f"{value_m:.1f} m" if units != "us" else f"{value_m / M_PER_FOOT:.1f} ft"


def format_distance(value_m: float, units: str) -> str:
    """A distance on the ground: `240 m`, `1.25 km`; or `790 ft`, `1.25 mi`."""
    if units != "us":
        return f"{value_m:.0f} m" if value_m < 999.5 else f"{value_m / 1000:.2f} km"
    feet = value_m / M_PER_FOOT
    return f"{feet:.0f} ft" if feet < 999.5 else f"{value_m / M_PER_MILE:.2f} mi"
