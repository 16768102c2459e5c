"""What to mind before opening a box: from its state, never a permission."""

from __future__ import annotations

from datetime import date

from layers.nesting import attempt_columns as c
from layers.nesting.histories import Histories
from layers.trail.coding import day_number

LAW = (
    "Nests in use are protected in most places and handling or marking birds needs a "
    "permit: keep to your local law and licence."
)
"""Holds also where a box is only looked at from a distance."""

ALWAYS = (
    "Not in cold, wet or very windy weather, nor in the first hours of the morning while "
    "eggs are being laid; be quick and close the box well (common practice, no source).",
    LAW,
)
"""Holds at every box; pages show it once."""

ON_A_ROUND = (
    *ALWAYS,
    "On cold days leave eggs and young covered: put the visit off rather than keep a parent "
    "away, and skip a box where one sits tight (common practice, no source).",
    "Young that leave too early seldom live: while a box must stay closed, only watch from a "
    "distance (field practice; no agency or paper found).",
    "Droppings and nests of mice can carry disease: air the box, wear gloves, wet the nest with "
    "disinfectant or one part of bleach in nine of water, leave it five minutes, and never sweep "
    "it dry (CDC, Hantavirus pulmonary syndrome: clean up, 2008).",
    "Set a ladder on firm ground, have a second person hold it, and leave a box that you cannot "
    "reach safely (common practice, no source).",
    "Banding is for licensed banders: in the United States a federal permit is needed, and most "
    "states ask for one too (USGS Bird Banding Laboratory); elsewhere ask locally.",
    "Clean out only a nest that is over and a box that is empty, and check your local law first: "
    "a nest with eggs or young must not be destroyed, and an old one may not be kept without a "
    "permit in the United States (USFWS, Bird nests: what you need to know).",
)
"""Shown beside a list of boxes to visit; each names its source."""

# CDC, Hantavirus pulmonary syndrome: clean up (2008).
_MOUSE = (
    "A mouse has used this box. Rodent dust can carry disease: whenever it is cleaned, air it, "
    "wear gloves, wet it with disinfectant, wait five minutes, never sweep it dry, and keep your "
    "face upwind."
)
_WASPS = "Wasps or ants were seen here: stand beside it, not before it, and step back if they stir."
_SNAKE = "A snake has been at this box: look well before a hand comes near it."


def sign_cautions(histories: Histories, box: str, *, on: date) -> list[str]:
    """Cautions about what lives in a box or has been at it lately; may be empty."""
    today = day_number(on)
    found: list[str] = []
    season = [i for i in histories.visits_of(box) if 0 <= today - histories.visits.day[i] <= 60]
    signs = 0
    for i in season:
        signs |= int(histories.visits.signs[i])
    for words, text in (("mouse", _MOUSE), ("wasps", _WASPS), ("ants", _WASPS), ("snake", _SNAKE)):
        if signs & c.sign_bits(words) and text not in found:
            found.append(text)
    return found
