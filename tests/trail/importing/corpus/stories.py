"""True visits, and what a file that shows some of their columns lets one read."""

from __future__ import annotations

import datetime as dt
import random
from dataclasses import dataclass
from typing import Any

from tests.trail.importing.corpus.keepers import Language

BOXES = tuple(str(number) for number in range(1, 13))
TODAY = dt.date(2026, 9, 1)


@dataclass
class Visit:
    """A true visit."""

    box: str
    day: dt.date
    species: str | None
    eggs: int
    young: int
    warm: str | None
    age: int | None
    own: str
    note: str | None


def visits(seed: int, *, boxes: int = 4, rounds: int = 4) -> list[Visit]:
    """Visits week by week, of boxes that are at different stages."""
    rng = random.Random(seed)
    found = []
    first = dt.date(2026, 4, 20) + dt.timedelta(days=rng.randrange(7))
    some = sorted(rng.sample(BOXES, boxes), key=int)
    for number in range(rounds):
        for place, box in enumerate(some):
            stage = number + place - 1
            eggs, young, age = [(0, 0, None), (rng.randrange(2, 7), 0, None), (0, 4, 5)][
                min(max(stage, 0), 2)
            ]
            species = None if stage <= 0 else "abc"[place % 3]
            note = rng.choice([None, None, "hole chewed", "ants on the pole"])
            warm = "warm" if eggs and rng.random() < 0.6 else None
            day = first + dt.timedelta(days=7 * number)
            own = str(rng.randrange(50, 80))
            found.append(Visit(box, day, species, eggs, young, warm, age, own, note))
    return found


def truth(visit: Visit, language: Language, *shown: str) -> dict[str, Any]:
    """What is to be read of a visit where a file shows these columns."""
    cells: dict[str, Any] = {"box": visit.box, "date": visit.day}
    if "species" in shown and visit.species:
        cells["species"] = language.guide[visit.species]
    if "counts" in shown:
        cells |= {"eggs": visit.eggs, "young": visit.young}
    if "warm" in shown and visit.warm:
        cells["eggs_warm"] = "yes"
    if "age" in shown and visit.age is not None:
        cells["young_days"] = visit.age
    if "phrase" in shown:
        if visit.young:
            cells |= {"young": visit.young, "young_days": visit.age}
        elif visit.eggs:
            cells |= {"eggs": visit.eggs} | ({"eggs_warm": "yes"} if visit.warm else {})
        else:
            cells |= {"eggs": 0, "young": 0}
    if "note" in shown and visit.note:
        cells["note"] = visit.note
    if "own" in shown:
        cells["own_columns"] = {language.heads["own"]: visit.own}
    return cells


def phrase(visit: Visit, language: Language) -> str:
    """A visit as one cell in free words."""
    if visit.young:
        return f"{visit.young} {language.young} ~{visit.age} {language.days}"
    if visit.eggs:
        return f"{visit.eggs} {language.eggs}" + (f" {language.warm}" if visit.warm else "")
    return language.empty
