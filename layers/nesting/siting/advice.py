"""What speaks for and against a place for a box."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from layers.nesting.histories import Histories
from layers.nesting.siting.cautions import against, cautions_for
from layers.nesting.siting.fitting import Fit, expected_species, fit
from layers.nesting.siting.nested import nested
from layers.nesting.siting.place import Place
from layers.nesting.siting.reason import Reason
from layers.trail.settings import Settings, season_of

ALWAYS = (
    "Room is judged by distance alone, and spots by how boxes of this trail were used in the same "
    "habitat. Not known here: food, cover and sprays around a place, cats, boxes of others, and "
    "whether birds of a species live near at all.",
    "On a round pole a cone or a stovepipe below the box keeps climbers off; on a tree, a fence or "
    "a wall they come from the side and from above, and only a plate or a mesh at the hole is left "
    "(common practice, no source).",
    "A metal pole is safer than a tree; no more than one box to a tree; away from feeders; "
    "where summers are very hot with the hole to the north or east (USDA-NRCS NH-645).",
    "No more than four small boxes for one species, or one large box, per acre (USDA-NRCS NH-645).",
    "A box without a keeper helps house sparrows and predators: put up only as many as "
    "will be visited (common practice, no source).",
    "A round hole of 40 mm (1 9/16 in) and more lets starlings in; one of 38 mm (1 1/2 in) keeps "
    "them out and admits bluebirds (SLAC newsletter 2005, Times News 2017). A cowbird passes no "
    "round hole narrower than 38 mm (Pribil & Picman 1997, Can. J. Zool. 75:302-307).",
    "Where tree swallows take the boxes meant for bluebirds, put up pairs, back to back or 1.5 to "
    "3 m (5 to 10 ft) apart, and each pair at least 91 m (300 ft) from the next (Frederick County "
    "Forestry Board, Maryland, 2014): one of each may then nest.",
    "Ask whoever owns the land; in many places boxes, and what nests in them, fall under rules "
    "of their own: keep to your local law.",
)
"""What holds for every box."""


@dataclass(frozen=True)
class Siting:
    """What a place is for a box.

    Attributes
    ----------
    against
        Why no box should stand there at all; mostly empty.
    cautions
        What to take care of there.
    species
        What it is for each species that may come, those that had most nests here first.
    """

    place: Place
    on: date
    against: tuple[Reason, ...]
    cautions: tuple[Reason, ...]
    species: tuple[Fit, ...]


def siting(
    histories: Histories, place: Place, *, habitats: Mapping[str, str], on: date, settings: Settings
) -> Siting:
    """What speaks for and against a place, by the visits up to a day and by the guide.

    `habitats` are those of the trail's boxes, by id.
    """
    known = histories.up_to(on)
    laid = nested(known)
    season = season_of(on, settings.season_starts)
    units = settings.units
    return Siting(
        place=place,
        on=on,
        against=tuple(against(place)),
        cautions=tuple(cautions_for(known, laid, place, season=season, on=on, units=units)),
        species=tuple(
            fit(
                known.guide,
                laid,
                place,
                known.guide.find(name),
                habitats=habitats,
                nests=nests,
                units=units,
            )
            for name, nests in expected_species(known.guide, laid).items()
        ),
    )
