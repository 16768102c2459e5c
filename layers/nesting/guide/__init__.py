"""The species table: clutch, days, nest and box of each species, with sources."""

from layers.nesting.guide.book import Guide, OwnPeriod, OwnPeriods
from layers.nesting.guide.loading import guide_with, standard_guide
from layers.nesting.guide.species import Source, Span, Species

__all__ = [
    "Guide",
    "OwnPeriod",
    "OwnPeriods",
    "Source",
    "Span",
    "Species",
    "guide_with",
    "standard_guide",
]
