"""The streets that momepy ships (bubenec.gpkg), against networkx on momepy's own graph."""

from __future__ import annotations

import geopandas as gpd
import momepy
import networkx as nx
import numpy as np
import pytest
from shapely.ops import substring

from layers.walking.distances import Walking
from layers.walking.nearest import WGS84
from layers.walking.network.attach import Site, attach
from layers.walking.network.build import build_network
from layers.walking.network.lines import lines_from
from layers.walking.pace import Flat


@pytest.fixture(scope="module")
def streets() -> gpd.GeoDataFrame:
    return gpd.read_file(momepy.datasets.get_path("bubenec"), layer="streets").to_crs("EPSG:4326")


def graph_of(streets: gpd.GeoDataFrame) -> nx.Graph:
    """The graph that momepy makes, with geodesic lengths; the shorter of parallel streets."""
    measured = streets.assign(length_m=[WGS84.geometry_length(shape) for shape in streets.geometry])
    graph = nx.Graph()
    for u, v, length_m in momepy.gdf_to_nx(measured).edges(data="length_m"):
        known = graph.get_edge_data(u, v, default={"length_m": np.inf})["length_m"]
        graph.add_edge(u, v, length_m=min(length_m, known))
    return graph


@pytest.mark.filterwarnings("ignore:Geometry is in a geographic CRS:UserWarning")
def test_distances_between_all_junctions_equal_networkx(streets: gpd.GeoDataFrame) -> None:
    graph = graph_of(streets)
    network, report = build_network(lines_from(streets.to_dict("records"))[0])
    # These streets are drawn with a vertex at each junction, so nothing is left to mend.
    assert (network.nodes, report.ends, report.merged) == (len(graph), (), ())
    nodes = sorted(graph)
    sites = [Site(f"junction {number}", *node) for number, node in enumerate(nodes)]
    ours = Walking(attach(network, sites), Flat()).length_m
    lengths = dict(nx.all_pairs_dijkstra_path_length(graph, weight="length_m"))
    theirs = np.array([[lengths[u][v] for v in nodes] for u in nodes])
    assert ours == pytest.approx(theirs, rel=1e-9, abs=1e-6)


def test_streets_cut_a_metre_short_at_both_ends_are_mended(streets: gpd.GeoDataFrame) -> None:
    flat = streets.to_crs("EPSG:5514")  # metres
    short = [substring(shape, 1.0, shape.length - 1.0) for shape in flat.geometry]
    cut = flat.set_geometry(short).to_crs("EPSG:4326")
    whole, _ = build_network(lines_from(streets.to_dict("records"))[0])
    mended, report = build_network(lines_from(cut.to_dict("records"))[0])
    assert len(report.parts) == 1
    assert mended.length_m.sum() == pytest.approx(whole.length_m.sum(), rel=0.01)
