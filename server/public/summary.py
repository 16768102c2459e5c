"""Published nests, counted by season and species."""

from __future__ import annotations

from collections import Counter, defaultdict
from dataclasses import dataclass

from layers.publishing import PublicView

NOT_RECORDED = "species not recorded"


@dataclass(frozen=True)
class SeasonLine:
    """Outcomes of the published nests of one species in one season."""

    species: str
    nests: int
    fledged: int
    failed: int
    unknown: int


def seasons(view: PublicView) -> dict[int, tuple[SeasonLine, ...]]:
    """Lines by season, the latest first; species by their number of nests, then by name.

    Fates alone: a total of eggs or young could be compared with the numbers published
    for single cells, to find those that are not.
    """
    fates: defaultdict[int, defaultdict[str, Counter[str]]] = defaultdict(
        lambda: defaultdict(Counter)
    )
    for nest in view.nests:
        fates[nest.season][nest.species or NOT_RECORDED][nest.fate] += 1
    return {
        season: tuple(
            sorted(
                (
                    SeasonLine(
                        species, ended.total(), ended["fledged"], ended["failed"], ended["unknown"]
                    )
                    for species, ended in fates[season].items()
                ),
                key=lambda line: (-line.nests, line.species),
            )
        )
        for season in sorted(fates, reverse=True)
    }
