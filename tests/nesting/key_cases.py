"""Cases of the key, for Python and the field page alike.

`python -m tests.nesting.key_cases` writes them.
"""

from __future__ import annotations

import datetime as dt
import itertools
import json
from pathlib import Path
from typing import Any

from layers.nesting.guide import standard_guide
from layers.nesting.key import Seen, identify, key_table
from tests.nesting.notebook import BLUEBIRD, read, seen

PATH = Path(__file__).parent / "data" / "key.json"
GUIDE = standard_guide()
REGION = "eastern North America"
ON = dt.date(2026, 5, 15)
TRAIL = read(
    *(seen(f"2025-05-{day}", eggs=3, box=f"A{day}", species=BLUEBIRD) for day in range(10, 13)),
    boxes=("A10", "A11", "A12"),
)


def _seen() -> list[dict[str, Any]]:
    """What the cases saw: each trait by itself, pairs of them, and what walkers meet."""
    one: list[dict[str, Any]] = [
        {"materials": ["grass"]},
        {"materials": ["moss", "hair", "feathers"]},
        {"form": "domed"},
        {"ground": "blue"},
        {"marks": "plain"},
        {"marks": "scrawled"},
        {"adult": "wren"},
        {"adult": "swallow or martin"},
        {"eggs": 6},
        {"eggs": 14},
        {"length": 17},
        {"length": 21.4},
        {"hole_mm": 38.0},
    ]
    pairs = [
        first | second
        for first, second in itertools.combinations(one, 2)
        if not first.keys() & second.keys()
    ]
    more: list[dict[str, Any]] = [
        {"materials": ["grass"], "ground": "blue", "marks": "plain", "length": 21, "eggs": 5},
        {"materials": ["twigs"], "ground": "white", "marks": "spotted", "eggs": 7},
        {"ground": "white", "marks": "spotted", "materials": ["moss", "hair"], "eggs": 6},
        {"form": "hardly a nest", "ground": "white", "eggs": 2, "hole_mm": 100.0},
        {"hole_mm": 5.0, "eggs": 3},
        {},
    ]
    return [*one, *pairs[::3], *more]


def cases() -> dict[str, Any]:
    """The table of the key, and of each case what was seen and what Python answers."""
    found = []
    for what in _seen():
        names = {"egg_length_mm": "length"}
        given = {
            name: what[key]
            for name in Seen.__dataclass_fields__
            if (key := names.get(name, name)) in what
        }
        given["materials"] = tuple(what.get("materials", ()))
        answer = identify(GUIDE, Seen(region=REGION, **given), trail=TRAIL, on=ON)
        found.append(
            {
                "seen": what,
                "said": answer.said,
                "species": answer.species,
                "either": answer.either,
                "look_next": answer.look_next,
                "candidates": [
                    [one.species, round(one.chance, 4), one.reasons]
                    for one in answer.candidates[:3]
                ],
            }
        )
    return {"key": key_table(GUIDE, region=REGION, trail=TRAIL, on=ON), "cases": found}


def text() -> str:
    """The file, one line a species and a case."""
    table = cases()
    key = dict(table["key"])
    species = key.pop("species")

    def line(one: object) -> str:
        return json.dumps(one, ensure_ascii=False, separators=(",", ":"))

    head = line(key)[:-1]
    rows = ",\n".join(line(one) for one in species)
    return (
        f'{{"key":{head},\n"species":[\n{rows}\n]}},\n"cases":[\n'
        + ",\n".join(line(one) for one in table["cases"])
        + "\n]}\n"
    )


if __name__ == "__main__":
    PATH.write_text(text(), encoding="utf-8")
