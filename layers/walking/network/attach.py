"""Boxes and places tied to the network by legs off the path."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from layers.errors import BadValue
from layers.walking.network.barriers import Barrier, BarrierIndex
from layers.walking.network.cutting import cut_at
from layers.walking.network.graph import Network, steps_m
from layers.walking.network.open_ground import OpenGround, Stretches, over_open_ground
from layers.walking.network.plane import Plane
from layers.walking.network.snaps import FARTHEST_END_M, FARTHEST_M, NoSnap, SnapIndex, SnapPoint

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

PATHS_ALONE = OpenGround(reach_m=0.0)
"""Sites are reached from the nearest point of a path alone."""


@dataclass(frozen=True)
class Site:
    """A box or a place to be reached.

    `watch_only` says that it is looked at from the path and not walked up to.
    """

    name: str
    lon: float
    lat: float
    watch_only: bool = False

    def __post_init__(self) -> None:
        if not (abs(self.lon) <= 360.0 and abs(self.lat) <= 90.0):
            raise BadValue(f"a place on earth for {self.name}", f"lon {self.lon}, lat {self.lat}")


@dataclass(frozen=True, eq=False)
class Attached:
    """A network with sites tied to it.

    Attributes
    ----------
    network
        The network, cut where sites are tied to it.
    sites
        The sites, in the order given.
    node
        Node at which each site leaves the path, or its own where it is reached over open
        ground; -1 where it cannot be reached.
    off_path_m
        Length of the leg from the site to its node; 0 for a site that has a node of its
        own or is looked at from the path.
    away_m
        Distance of each site from the point of the path that is nearest to it, also where
        it is only looked at; 0 where it is tied to no path.
    reasons
        Why a site cannot be reached; empty text where it can.
    straight
        Whether the trail has no paths, so that all legs are straight.
    """

    network: Network
    sites: tuple[Site, ...]
    node: Ints
    off_path_m: Floats
    away_m: Floats
    reasons: tuple[str, ...]
    straight: bool


def attach(
    network: Network,
    sites: Sequence[Site],
    *,
    barriers: Sequence[Barrier] = (),
    open_ground: OpenGround = PATHS_ALONE,
    ends: int = 0,
) -> Attached:
    """Tie each site to the points of the network that it can be reached from.

    Parameters
    ----------
    network
        From `build_network`. Without any edge, sites are tied to each other by straight
        legs around the barriers.
    barriers
        No leg off the path crosses any of these.
    sites
        The walk starts at the first; paths connected with it come first.
    open_ground
        Where sites are reached over open ground too; each then has a node of its own.
    ends
        How many sites, the first ones, are starts and ends: they may be farther off.
    """
    sites = tuple(sites)
    straight = network.edges == 0
    lon = np.array([site.lon for site in sites])
    lat = np.array([site.lat for site in sites])
    looks = np.array([site.watch_only for site in sites], bool)
    plane = Plane.around(np.r_[network.vertex_lon, lon], np.r_[network.vertex_lat, lat])
    xy = plane.xy(lon, lat) if sites else np.empty((0, 2))
    index = BarrierIndex(barriers, plane)
    found: list[SnapPoint | NoSnap] = [
        NoSnap(f"it stands in {barriers[zone].words}", apart=True)
        if zone >= 0 and not site.watch_only
        else (-1, 0.0)
        for site, zone in zip(sites, index.holding(xy), strict=True)
    ]
    stretches = Stretches.none()
    if sites and not straight:
        snaps = SnapIndex(network, plane, index)
        part = snaps.part_of(xy[0])
        stretches = snaps.stretches(part)
        for number, site in enumerate(sites):
            if not isinstance(found[number], NoSnap):
                reach_m = FARTHEST_END_M if number < ends else FARTHEST_M
                found[number] = snaps.nearest(
                    xy[number], part, watch_only=site.watch_only, reach_m=reach_m
                )
    reasons = ["" if isinstance(one, tuple) else one.reason for one in found]
    edge = np.array([one[0] if isinstance(one, tuple) else -1 for one in found], np.int64)
    along = np.array([one[1] if isinstance(one, tuple) else 0.0 for one in found])
    open_to = np.array([isinstance(one, tuple) or not one.apart for one in found], bool)
    own = np.flatnonzero(open_to & (straight | (~looks & (open_ground.reach_m > 0.0))))
    if straight or len(own):
        if closed := open_ground.closed():
            index = BarrierIndex((*barriers, *closed), plane)
        tied, foot, nodes = over_open_ground(
            network,
            xy[own],
            stretches,
            snaps=(edge, along, own),
            index=index,
            open_ground=open_ground,
        )
        node = foot.copy()
        node[own] = nodes
        if not straight:
            reached = _connected(tied, node, int(network.u[stretches.edge[0]]))
            node[~reached] = -1
            reasons = ["" if ok else why for ok, why in zip(reached, reasons, strict=True)]
    else:
        tied, foot = cut_at(network, edge, along, plane)
        node = foot
    away = np.zeros(len(sites))
    for number in np.flatnonzero(foot >= 0).tolist():
        ends_lon = np.array([lon[number], tied.lon[foot[number]]])
        away[number] = steps_m(ends_lon, np.array([lat[number], tied.lat[foot[number]]]))[0]
    off_path = np.where(looks | (node != foot), 0.0, away)
    return Attached(tied, sites, node, off_path, away, tuple(reasons), straight=straight)


def _connected(network: Network, node: Ints, start: int) -> NDArray[np.bool_]:
    """Which of some nodes hang together with another, whatever the direction; -1 never does."""
    links = coo_array(
        (np.ones(network.edges, np.int8), (network.u, network.v)), shape=(network.nodes,) * 2
    )
    part = connected_components(links.tocsr(), directed=False)[1]
    together: NDArray[np.bool_] = (node >= 0) & (part[node] == part[start])
    return together
