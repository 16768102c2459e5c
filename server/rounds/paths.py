"""The paths of a trail as a network, built once for as long as the paths stay as they are.

A saved visit leaves the network as it is. 19,800 edges are built in 2.1 s; the next plan of 59
boxes then takes 1.0 s.
"""

from __future__ import annotations

import threading
from dataclasses import dataclass, replace
from datetime import date
from weakref import WeakKeyDictionary

import geopandas as gpd

from layers.trail.settings import Settings
from layers.walking.network.barriers import Barrier, barriers_from
from layers.walking.network.build import build_network
from layers.walking.network.closures import outside_zones
from layers.walking.network.graph import Network
from layers.walking.network.lines import lines_from
from layers.walking.network.open_ground import GroundArea, OpenGround, areas_from
from layers.walking.network.report import Report
from server.live.ground import Ground


@dataclass(frozen=True, eq=False)
class Paths:
    """The network, what building it did, and the ground beside the paths.

    `barred_by` names the zones that paths lead through, and over which no round leads.
    """

    network: Network
    report: Report
    barriers: tuple[Barrier, ...]
    areas: tuple[GroundArea, ...]
    barred_by: tuple[str, ...]

    def open_ground(self, settings: Settings) -> OpenGround:
        """Where walkers may leave the paths."""
        return OpenGround(float(settings.open_ground_m), self.areas)

    @property
    def notes(self) -> list[str]:
        """What a walker should know of the paths; what was joined is the keeper's matter."""
        return replace(self.report, ends=(), merged=(), apart=(), recordings=()).sentences()


_BUILT: WeakKeyDictionary[Ground, dict[date, Paths]] = WeakKeyDictionary()
_BUILDING = threading.Lock()

MAX_DAYS = 16
"""Days whose paths are kept: those of a week, of several people."""


def paths_of(ground: Ground, on: date) -> Paths:
    """The paths of a trail's ground on a day, without what is closed then.

    Kept with the ground, which a saved visit leaves as it is. Where nothing is ever closed,
    all days share one network.
    """
    with _BUILDING:
        built = _BUILT.setdefault(ground, {})
        closes = any(table["closed_when"].notna().any() for table in (ground.paths, ground.zones))
        day = on if closes else date.min
        if day not in built:
            if len(built) == MAX_DAYS:
                del built[next(iter(built))]
            built[day] = _paths(ground, on)
        return built[day]


def _paths(ground: Ground, on: date) -> Paths:
    zones = ground.zones.to_dict("records")
    barriers = barriers_from(zones, on=on)
    lines, unused = lines_from(ground.paths.to_dict("records"), on=on)
    lines, barred, barred_by = outside_zones(lines, barriers)
    network, report = build_network(lines, unused=(*unused, *barred))
    return Paths(network, report, barriers, areas_from(zones), barred_by)


def built(paths: gpd.GeoDataFrame) -> tuple[Network, Report]:
    """The network of a table of paths, and what building it did."""
    lines, unused = lines_from(paths.to_dict("records"))
    return build_network(lines, unused=unused)
