"""Rounds: gaps and times beside plain ways, a large network, and how drawn lines are joined.

`python -m tests.bench rounds`
"""

from __future__ import annotations

import importlib.util
import resource
import tempfile
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from data_demo.build import build_demo
from layers.trail.store import Trail
from layers.walking.distances import Walking
from layers.walking.network.attach import Site, attach
from layers.walking.network.build import build_network
from layers.walking.network.cutting import cut_at
from layers.walking.network.graph import Network
from layers.walking.network.lines import lines_from
from layers.walking.network.open_ground import OpenGround
from layers.walking.network.plane import Plane
from layers.walking.pace import NORMAL, Flat
from layers.walking.round import Round, RoundProblem, StopRequest, plan
from layers.walking.round.arrays import Orders, ProblemArrays, merit
from layers.walking.round.bound import tour_bound
from layers.walking.round.proof import prove
from layers.walking.round.solve import MAX_STEPS, STEPS_PER_STOP, solutions
from layers.walking.round.tour import tour_cost, tours
from tests.bench.clock import best_of, heading, line, say_time
from tests.bench.rounds_large import large_lines, large_sites
from tests.bench.rounds_plain import plain_cut, plain_tour
from tests.outside.test_tours import GR17_OPTIMUM, PCB442_OPTIMUM, gr17, pcb442, random_places
from tests.walking.instances import TWENTY, one_of_twenty
from tests.walking.routing_library import routing_library_plan, routing_library_tour

Ints = NDArray[np.int64]
SEED = 1


def our_tour(cost: Ints) -> Ints:
    steps = min(STEPS_PER_STOP * len(cost), MAX_STEPS)
    *_, tour = tours(cost, steps=steps, seed=SEED)
    return tour


def table_of_tours() -> None:
    """Length above the optimum where it is known, and above our lower bound elsewhere."""
    library = importlib.util.find_spec("ortools") is not None
    instances: list[tuple[str, Ints, int | None]] = [("gr17", gr17(), GR17_OPTIMUM)]
    instances += [
        (f"{size} places, seed {seed}", random_places(size, seed), None)
        for size, seed in ((60, 0), (60, 1), (100, 0), (100, 1), (200, 0), (500, 0))
    ]
    instances.insert(-1, ("pcb442", pcb442(), PCB442_OPTIMUM))
    names = ["nearest first + 2-opt", "ours"] + (["OR-tools, 1 s"] if library else [])
    print(f"  {'':<22}{'lower bound':>24}" + "".join(f"{name:>25}" for name in names))
    for name, cost, optimum in instances:
        best = our_tour(cost)
        bound_s, bound = best_of(1, partial(tour_bound, cost, best))
        against = optimum or bound
        ways: list[Callable[[Ints], Ints]] = [plain_tour, our_tour]
        if library:
            ways.append(partial(routing_library_tour, seconds=1))
        cells = []
        for way in ways:
            took_s, tour = best_of(1, partial(way, cost))
            length = tour_cost(cost, tour)
            proven = "optimal" if length == against else f"+{100 * (length / against - 1):.2f} %"
            cells.append(f"{proven:>13}{say_time(took_s):>12}")
        of = f"{bound} " if optimum is None else f"{100 * (bound / optimum - 1):+.2f} % "
        print(f"  {name:<22}{of:>13}{say_time(bound_s):>11}" + "".join(cells), flush=True)
    if not library:
        print("  ortools is not installed: no routing library beside ours")


def every_solution(given: ProblemArrays) -> list[Orders]:
    return list(solutions(given, go_on=lambda: True))


def table_of_choices() -> None:
    """Urgency visited, or without a limit the longest walk, and the bound, beside a library."""
    library = importlib.util.find_spec("ortools") is not None
    print(f"  {'':<26}{'ours':>8}{'bound':>9}{'time':>10}{'OR-tools, 5 times as long':>28}")
    for number, (stops, walkers, budget, _) in enumerate(TWENTY):
        given = one_of_twenty(number)
        took_s, orders = best_of(1, partial(every_solution, given))
        best = min(orders, key=partial(merit, given))
        proof = prove(given, best, go_on=lambda: True)
        other = ""
        if library:
            found = routing_library_plan(given, seconds=5.0 * took_s)
            urgency, longest, _ = merit(given, found)
            other = f"{-urgency:.0f}" if np.isfinite(budget) else f"{longest:.1f}"
        name = f"{stops} stops, {walkers} x {budget:.0f} min"
        print(
            f"  {name:<26}{proof.value:>8.1f}{proof.bound:>9.1f}{say_time(took_s):>10}{other:>28}",
            flush=True,
        )


def demo_trail() -> tuple[Network, tuple[StopRequest, ...], Site]:
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "demo.gpkg"
        build_demo(file)
        with Trail.open(file) as trail:
            paths, boxes, places = trail.paths(), trail.boxes(), trail.places()
    points = zip(boxes["box"], boxes.geometry, strict=True)
    requests = tuple(
        StopRequest(box, point.x, point.y, urgency=1.0 + number % 5)
        for number, (box, point) in enumerate(points)
        if point is not None
    )
    at = places[places["kind"] == "start"].iloc[0]
    network, _ = build_network(lines_from(paths.to_dict("records"))[0])
    return network, requests[:60], Site(at["name"], at.geometry.x, at.geometry.y)


def said(planned: Round) -> str:
    left_out = f", {len(planned.left_out)} left out" if planned.left_out else ""
    return f"{planned.minutes:.1f} min{left_out}; {planned.proof}"


def demo_rounds() -> None:
    network, requests, start = demo_trail()
    print(f"  {len(requests)} boxes on {network.edges} edges of the demo, normal walking speed")
    for what, asked in {
        "all boxes, closed round": {},
        "two walkers": {"walkers": 2},
        "four walkers": {"walkers": 4},
        "200 minutes": {"budget_minutes": 200.0},
        "two walkers, 90 minutes": {"walkers": 2, "budget_minutes": 90.0},
    }.items():
        problem = RoundProblem(network, requests, start, **asked)  # type: ignore[arg-type]
        took_s, planned = best_of(2, partial(plan, problem, pace=NORMAL))
        line(what, took_s)
        print(f"    {said(planned)}")


def cut_large(network: Network) -> None:
    """Cutting at 20,000 points, as ties over open ground do, beside cutting edge by edge."""
    rng = np.random.default_rng(SEED)
    edge = rng.integers(0, network.edges, 20_000)
    along = rng.uniform(0.0, 0.99, len(edge)) * network.length_m[edge]
    plane = Plane.around(network.vertex_lon, network.vertex_lat)
    took_s, (cut, node) = best_of(2, partial(cut_at, network, edge, along, plane))
    plain_s, (other, plain_node) = best_of(1, partial(plain_cut, network, edge, along, plane))
    assert np.array_equal(node, plain_node)
    assert np.allclose(cut.length_m, other.length_m, atol=1e-6)
    line(f"cut at {len(edge):,} points", took_s, plain="edge by edge", plain_s=plain_s)


def large_network() -> None:
    drawn = large_lines(SEED)
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    took_s, (network, report) = best_of(1, lambda: build_network(drawn))
    print(
        f"  {len(drawn):,} lines drawn, {network.edges:,} edges, {network.nodes:,} nodes, "
        f"{len(report.parts)} connected part(s)"
    )
    line("network built", took_s)
    cut_large(network)
    sites = large_sites(1000, SEED)
    requests = tuple(StopRequest(site.name, site.lon, site.lat) for site in sites)
    middle = sites[500]
    took_s, walking = best_of(1, lambda: Walking(attach(network, sites), Flat()))
    line("1,000 boxes tied to it, all distances between them", took_s)
    took_s, _ = best_of(1, partial(attach, network, sites, open_ground=OpenGround(250.0)))
    line("1,000 boxes tied to it over open ground", took_s)
    assert np.isfinite(walking.minutes).all()
    for count in (60, 1000):
        problem = RoundProblem(network, requests[:count], middle)
        took_s, planned = best_of(1, partial(plan, problem, pace=Flat()))
        line(f"round over {count:,} boxes, network at hand", took_s)
        print(f"    {said(planned)}")
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    print(f"  memory at its highest {(peak - before) / 1024:,.0f} MB above that before")


def table_of_joins() -> None:
    if importlib.util.find_spec("momepy") is None:
        print("  momepy is not installed: no table")
        return
    from tests.walking.test_network_truth import (  # noqa: PLC0415 - a test's library
        BOXES,
        SEEDS,
        WAYS,
        shares,
    )

    print(f"  {len(SEEDS)} parks of {BOXES} boxes, all pairs; within 1 % of the true distance")
    print(f"  {'':<16}{'right':>9}{'too long':>10}{'too short':>11}{'unreachable':>13}{'time':>11}")
    for name, way in WAYS.items():
        begun = time.perf_counter()
        share = shares(way)
        took_s = time.perf_counter() - begun
        print(
            f"  {name:<16}{share['right']:>9.2%}{share['long'] - share['unreachable']:>10.2%}"
            f"{share['short']:>11.2%}{share['unreachable']:>13.2%}{say_time(took_s):>11}"
        )


def main() -> None:
    heading(f"Order of stops, one closed round, seed {SEED}")
    our_tour(random_places(20, 0))  # compiles
    table_of_tours()
    heading("Too little time for all stops, or several walkers")
    table_of_choices()
    heading("Rounds on the demo trail")
    demo_rounds()
    heading("A large network")
    large_network()
    heading("From drawn lines to a network")
    table_of_joins()


if __name__ == "__main__":
    main()
