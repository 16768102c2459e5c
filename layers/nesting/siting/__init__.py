"""Where a box could stand: what speaks for and against a place, species by species."""

from layers.nesting.siting.advice import ALWAYS, Siting, siting
from layers.nesting.siting.fitting import (
    ROOMS,
    Fit,
    HabitatUse,
    Room,
    expected_species,
    habitat_use,
    rivals,
)
from layers.nesting.siting.nested import Nested, nested
from layers.nesting.siting.place import BoxNear, PathNear, Place, ZoneHere
from layers.nesting.siting.reason import Figure, Reason

__all__ = [
    "ALWAYS",
    "ROOMS",
    "BoxNear",
    "Figure",
    "Fit",
    "HabitatUse",
    "Nested",
    "PathNear",
    "Place",
    "Reason",
    "Room",
    "Siting",
    "ZoneHere",
    "expected_species",
    "habitat_use",
    "nested",
    "rivals",
    "siting",
]
