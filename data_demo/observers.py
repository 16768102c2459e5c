"""People who look into boxes, and what they write down of what they could see."""

from __future__ import annotations

from dataclasses import dataclass
from random import Random
from typing import Any

from data_demo.biology import BIOLOGY
from data_demo.nest import Inside

Cells = dict[str, Any]
"""What was written at one visit, by column; a column not written is left out."""


@dataclass(frozen=True, slots=True)
class Observer:
    """One person's ways.

    Attributes
    ----------
    fills
        Chance of filling in a cell that could be left blank.
    miscounts
        Chance of being one off in a count of three or more.
    age_error_days
        Standard deviation of the age she gives the young.
    keeps_closed
        Chance that she leaves a box shut while the young might jump.
    notes_time
        Chance of writing the time of day.
    """

    name: str
    fills: float
    miscounts: float
    age_error_days: float
    keeps_closed: float
    notes_time: float


OBSERVERS = (
    Observer("Maren", 0.95, 0.004, 1.0, 0.9, 0.98),
    Observer("Tobias", 0.85, 0.01, 1.2, 0.7, 0.9),
    Observer("Ilse", 0.9, 0.008, 1.1, 0.85, 0.95),
    Observer("Quentin", 0.7, 0.02, 1.5, 0.4, 0.5),
)
"""Four invented people of different care."""

_NOTES = (
    "male singing nearby",
    "quiet today",
    "pair on the wire",
    "grass long around the post",
    "rain in the night",
    "second look from the gate",
    "door sticks",
)

# Chances of small things; invented.
_SITS_TIGHT = 0.13
_NEST_NAMED = {"none": 0.0, "loose material": 0.45, "shaped cup": 0.7, "lined cup": 0.85}
_ADULT_SEEN = {
    "incubating": (("flushed", "near", "none"), (0.35, 0.2, 0.45)),
    "laying": (("flushed", "near", "none"), (0.08, 0.3, 0.62)),
    "building": (("near", "none"), (0.3, 0.7)),
    "feeding": (("feeding", "near", "none"), (0.25, 0.3, 0.45)),
    "nothing": (("none",), (1.0,)),
}


class Notebook:
    """What people write about one box through a season; knows what they saw last."""

    def __init__(self, *, random: Random, lets_sit: bool) -> None:
        """`lets_sit`: observers do not lift a sitting bird, so its eggs are rarely counted."""
        self._random = random
        self._sits_tight = 0.75 if lets_sit else _SITS_TIGHT
        self._shut: tuple[int, int] | None = None
        self._end_noted = False

    def write(self, inside: Inside, *, day: int, by: Observer, deed: str | None = None) -> Cells:
        """The cells of one visit; `deed` is what is done to the box, which opens it."""
        if inside.doing != "nothing":
            self._end_noted = False
        if deed is None:
            if self._shut is not None and day > self._shut[1]:
                self._shut = None
            shut = self._shut is not None and self._shut[0] <= day
            if shut and self._chance(by.keeps_closed):
                return self._from_outside(inside)
            if "wasps" in inside.marks and self._chance(0.6):
                return {"signs": "wasps", "opened": "no"}
            if inside.doing == "incubating" and self._chance(self._sits_tight):
                return self._left_sitting(inside)
        cells = self._counted(inside, day=day, by=by)
        if deed is not None:
            cells["actions"] = deed
        elif inside.young and 6 <= inside.age_days <= 11 and self._chance(0.1):
            cells["actions"] = "banded"
        if deed == "closed":
            cells["note"] = "roof broken; shut until it is mended"
        elif self._chance(0.04):
            cells["note"] = self._random.choice(_NOTES)
        return cells

    def _chance(self, chance: float) -> bool:
        return self._random.random() < chance

    def _from_outside(self, inside: Inside) -> Cells:
        cells: Cells = {"opened": "no"}
        if inside.doing == "feeding":
            adult = self._random.choices(("feeding", "near", "none"), (0.6, 0.25, 0.15))[0]
            cells["adult"] = adult
            if adult != "none" or self._chance(0.5):
                cells["species"] = inside.species
        elif self._chance(0.6):
            cells["adult"] = "none"
        return cells

    def _left_sitting(self, inside: Inside) -> Cells:
        opened = "no" if self._chance(0.4) else "yes"
        return {"species": inside.species, "adult": "sitting", "opened": opened}

    def _counted(self, inside: Inside, *, day: int, by: Observer) -> Cells:
        cells: Cells = {"opened": "yes"} if self._chance(0.85) else {}
        named = self._names_species(inside)
        if named:
            cells["species"] = inside.species
        self._contents(cells, inside, by)
        adult = self._adult(inside, by)
        if adult is not None:
            cells["adult"] = adult
        if inside.young:
            age = max(0, round(self._random.gauss(inside.age_days, by.age_error_days)))
            if self._chance(0.85 * by.fills):
                cells["young_days"] = age
            bird = BIOLOGY[inside.species or ""]
            born = day - age
            self._shut = (
                born + bird.closed_from_days,
                born + bird.nestling_days[1] + self._random.randint(0, 2),
            )
        else:
            self._shut = None
        signs = [mark for mark in inside.marks if self._chance(self._notes_sign(by))]
        if signs:
            cells["signs"] = ";".join(signs)
        if inside.doing == "nothing" and inside.species is not None:
            self._end_noted = True
        return cells

    def _notes_sign(self, by: Observer) -> float:
        return 0.25 if self._end_noted else min(1.0, by.fills + 0.05)

    def _names_species(self, inside: Inside) -> bool:
        if inside.species is None:
            return False
        if inside.doing == "nothing":
            return self._chance(0.3 if self._end_noted else 0.65)
        if inside.doing == "building":
            return self._chance(_NEST_NAMED[inside.nest])
        return self._chance(0.94)

    def _contents(self, cells: Cells, inside: Inside, by: Observer) -> None:
        if "mouse" in inside.marks or "wasps" in inside.marks:
            return
        if inside.nest == "none" or self._chance(by.fills):
            cells["nest"] = inside.nest
        if inside.eggs:
            cells["eggs"] = self._count(inside.eggs, by)
            if self._chance(0.4 * by.fills):
                felt_warm = inside.warm and self._chance(0.97)
                cells["eggs_warm"] = "yes" if felt_warm else "no"
        if inside.young:
            cells["young"] = self._count(inside.young, by)
        if not inside.eggs and not inside.young:
            # An empty box is mostly written as such; "none" for the nest says it too.
            if self._chance(0.9 if inside.nest != "none" else 0.75):
                cells["eggs"] = cells["young"] = 0
        elif not inside.eggs and self._chance(0.5):
            cells["eggs"] = 0
        elif not inside.young and self._chance(0.5):
            cells["young"] = 0
        if inside.dead_young and self._chance(0.97):
            cells["dead_young"] = inside.dead_young

    def _count(self, true_count: int, by: Observer) -> int:
        if true_count >= 3 and self._chance(by.miscounts):
            return true_count + self._random.choice((-1, 1))
        return true_count

    def _adult(self, inside: Inside, by: Observer) -> str | None:
        words, weights = _ADULT_SEEN[inside.doing]
        adult = self._random.choices(words, weights)[0]
        return adult if adult != "none" or self._chance(0.5 * by.fills) else None
