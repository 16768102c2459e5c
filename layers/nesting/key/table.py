"""The key as a table of chances, with which a page identifies a species without the server."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date
from typing import Any

from layers.nesting.guide import Guide, Species
from layers.nesting.histories import Histories
from layers.nesting.key import identifying, traits

_DIGITS = 4
"""Digits of each chance: too few to move a percentage that is shown."""


def key_table(
    guide: Guide, *, region: str | None, trail: Histories | None = None, on: date | None = None
) -> dict[str, Any]:
    """What `identify` computes with, ready for JSON, but for the hole of the box.

    Parameters
    ----------
    region
        Species met elsewhere are left out; None leaves out none.
    trail, on
        As in `identify`.

    Returns
    -------
    dict
        `words`, of each trait in the order of the chances; `looks`, what to look at for each
        trait; `limits`, the constants of `identify`; `species`, each with its chances: one a word,
        one a number of eggs from 1 on (the last holds for all above it), and one a millimetre
        of the egg's length from `limits.least_length_mm` on.
    """
    nests = {} if trail is None or on is None else identifying.nests_begun(trail, on)
    return {
        "words": {
            "materials": list(traits.MATERIALS),
            "form": list(traits.FORMS),
            "adult": list(traits.ADULTS),
            "ground": list(traits.GROUNDS),
            "marks": list(traits.MARKS),
        },
        "looks": {
            "materials": identifying.LOOK_MATERIAL,
            "form": identifying.LOOK_FORM,
            "ground": identifying.LOOK_GROUND,
            "marks": identifying.LOOK_MARKS,
            "length": identifying.LOOK_LENGTH,
            "adult": identifying.LOOK_ADULT,
        },
        "limits": {
            "sure": identifying.SURE,
            "sure_of_group": identifying.SURE_OF_GROUP,
            "least_traits": identifying.LEAST_TRAITS,
            "listed": identifying.LISTED,
            "fits": identifying.FITS,
            "odd": identifying.ODD,
            "least_gain_bits": identifying.LEAST_GAIN_BITS,
            "brief": traits.BRIEF,
            "least_length_mm": traits.LENGTHS_MM[0],
        },
        "species": [
            _species(one, nests.get(one.common, 0))
            for one in guide.species
            if region in (None, *one.regions)
        ],
    }


def _species(species: Species, nests: int) -> dict[str, Any]:
    least = species.least_hole_mm
    eggs = traits.count_chances(species)
    most = int(species.clutch_range.high) + 1
    return {
        "name": species.common,
        "alike": species.alike or species.common,
        "least_hole_mm": None if least is None else least.low,
        "nests": nests,
        "nest": species.nest,
        "egg": species.eggs,
        "materials": _chances(traits.material_chances(species)),
        "form": _chances(traits.form_chances(species)),
        "adult": _chances(traits.adult_chances(species)),
        "ground": _chances(traits.ground_chances(species)),
        "marks": _chances(traits.mark_chances(species)),
        "eggs": _rounded(eggs[count] for count in range(1, most + 1)),
        "length": _chances(traits.length_chances(species)),
    }


def _chances(of: Mapping[Any, float]) -> list[float]:
    return _rounded(of.values())


def _rounded(chances: Iterable[float]) -> list[float]:
    return [float(f"{chance:.{_DIGITS}g}") for chance in chances]
