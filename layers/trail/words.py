"""The words of the trade that a trail file may hold, and what to do with others.

Whole words only: a file, a screen and the code use the same ones. Which column holds
which is declared in `layers.trail.schema`.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable, Sequence

from layers.errors import BadValue

NEST = ("none", "loose material", "shaped cup", "lined cup")
NEST_OF_FORMAT_1 = {"partial": "loose material", "full": "shaped cup", "lined": "lined cup"}
ADULT = ("none", "near", "flushed", "sitting", "feeding")
SIGNS = (
    *("flattened", "droppings", "hatched shells", "broken eggs", "nest torn", "feathers", "hair"),
    *("wet", "cold", "ants", "wasps", "mouse", "snake", "squirrel", "dead adult"),
)
ACTIONS = ("cleaned", "repaired", "guard fitted", "nest removed", "banded", "moved", "closed")
GUARDS = ("cone", "stovepipe", "hole mesh", "hole plate", "slender pole")
CONFIRMED = (
    *("blank", "same day", "no box there", "small hole", "many eggs", "many young"),
    *("warm without eggs", "age", "age without young", "eggs after young", "laid too fast"),
    *("same eggs again", "hatched too soon", "more young", "other species"),
)
"""What can be odd about a visit, and was confirmed (`layers.nesting.questions`)."""
PUBLIC = ("shown", "coarse", "hidden")
OPEN_TO = ("all", "team", "closed")
PLACE_KINDS = ("start", "hazard", "landmark")
ZONE_KINDS = ("habitat", "keep_out", "building", "water")
GROUNDS = ("open", "rough", "paths only")
YES_NO = ("no", "yes")
UNITS = ("metric", "us")

STAGES = ("building", "laying", "incubating", "nestlings", "over")
FATES = ("ongoing", "fledged", "failed", "unknown", "probably fledged", "probably failed")
OCCUPANCY = (
    "in use",
    "started",
    "finished",
    "unused",
    "other animal",
    "not checked",
    "out of service",
)
CAUSES = (
    "predator",
    "taken over",
    "abandoned",
    "did not hatch",
    "young died",
    "parent died",
    "cold or wet",
    "insects",
    "nest removed",
    "not known",
)


def nearest_words(word: str, known: Iterable[str], *, most: int = 3) -> list[str]:
    """The known words that look most like `word`, best first; may be empty."""
    folded = {candidate.casefold(): candidate for candidate in known}
    close = difflib.get_close_matches(word.casefold().strip(), folded, n=most, cutoff=0.5)
    return [folded[name] for name in close]


def nearest_hint(word: str, known: Iterable[str]) -> str:
    """The nearest known words in brackets, for the end of a message; nothing if none is near."""
    close = nearest_words(word, known)
    return f" (nearest: {', '.join(close)})" if close else ""


def one_word(text: str, column: str, known: Sequence[str]) -> str:
    """`text` as the word of the list that it means, whatever its case.

    Raises
    ------
    BadValue
        The word is not on the list; the message names the nearest ones.
    """
    cleaned = " ".join(text.replace("_", " ").split()).casefold()
    for word in known:
        if word.replace("_", " ").casefold() == cleaned:
            return word
    expected = f"one of {', '.join(known)}{nearest_hint(text, known)}"
    raise BadValue(expected, repr(text), column=column)


def many_words(text: str, column: str, known: Sequence[str]) -> tuple[str, ...]:
    """The `;`-joined words of `text`, each once, in the order of the list.

    Raises
    ------
    BadValue
        A word is not on the list; the message names the nearest ones.
    """
    found = {one_word(part, column, known) for part in text.split(";") if part.strip()}
    return tuple(word for word in known if word in found)


def plain_id(box: str) -> str:
    """The id of a box without case, blanks, signs and leading zeros: a-7 and A07 read the same.

    Two numbers stay apart: 1-1 is not 11.
    """
    runs = re.findall(r"\d+|[^\W\d_]+", box.replace("\u200b", "").casefold())
    plain = " ".join(run.lstrip("0") or "0" for run in runs)
    return re.sub(r"(?<!\d) | (?!\d)", "", plain)
