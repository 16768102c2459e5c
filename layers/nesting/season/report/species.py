"""Each species of a season."""

from __future__ import annotations

import numpy as np

from layers.nesting.season.apparent import apparent_success
from layers.nesting.season.box_use import box_use
from layers.nesting.season.clutches import brood_size, clutch_size, hatching_success
from layers.nesting.season.fledglings import fledged_in_all, fledged_per_attempt
from layers.nesting.season.phenology import broods, first_eggs
from layers.nesting.season.report.counting import counts_of
from layers.nesting.season.report.facts import Apart, SpeciesFacts
from layers.nesting.season.tables import SeasonTable
from layers.nesting.season.young import YoungFledged
from layers.nesting.timeline import NAME_NOT_RECORDED, Service

HOUSE_SPARROW = "house sparrow"
"""Brought by people to the Americas, Australia and southern Africa, where it takes boxes and
nests of others (from memory): results are given with and without it."""


def without_house_sparrows(table: SeasonTable, young: YoungFledged) -> Apart | None:
    """The season without that species; None where it had no nest, or all of them."""
    theirs = np.array([name == HOUSE_SPARROW for name in table.species()], bool)
    nests, others = int(np.sum(table.laid & theirs)), table.take(~theirs)
    if not nests or not others.laid.any():
        return None
    return Apart(HOUSE_SPARROW, nests, counts_of(others), fledged_in_all(others, young))


def each_species(
    table: SeasonTable, young: YoungFledged, season: int, service: Service
) -> tuple[SpeciesFacts, ...]:
    """Every species with a nest, the one with most nests first."""
    use = box_use(table, season=season, service=service)
    named = [name or NAME_NOT_RECORDED for name in table.species()]
    found = []
    for name, own in table.grouped(named).items():
        if not own.laid.any():
            continue
        found.append(
            SpeciesFacts(
                species=name,
                counts=counts_of(own),
                used=use.by_species[name],
                clutch=clutch_size(own),
                hatching=hatching_success(own),
                brood=brood_size(own),
                young=fledged_in_all(own, young),
                per_attempt=fledged_per_attempt(own, young),
                apparent=apparent_success(own),
                first_eggs={
                    brood: first_eggs(nests)
                    for brood, nests in own.grouped(broods(own)).items()
                    if nests.laid.any()
                },
            )
        )
    return tuple(sorted(found, key=lambda facts: (-facts.counts.attempts, facts.species)))
