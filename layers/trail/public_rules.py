"""What the public may see of a trail: the keeper's rules, stored with the trail's settings."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass, fields, replace
from types import MappingProxyType
from typing import Any, Literal, Self

from layers.errors import BadValue
from layers.trail import words

CELLS_DEG = (0.001, 0.01, 0.1, 1.0)
"""Sizes of a cell: the steps of Chapman 2020, Current Best Practices for Generalizing
Sensitive Species Occurrence Data, doi 10.15468/doc-5jp4-5g10, table 7."""

ONGOING = ("withheld", "in use")
LAYERS = ("paths", "places", "zones")

MAX_DELAY_DAYS = 3660


@dataclass(frozen=True)
class PublicRules:
    """Rules by which a trail is shown to the public; the defaults show least.

    Attributes
    ----------
    open
        yes: there are public pages; no: they say that nothing is shown.
    name, region, contact
        What the public pages call the trail, where they say it is, and whom to ask; empty =
        the trail's own name, for a coarse trail none, and nothing.
    cell
        Size in degrees of the grid square in which the boxes are shown.
    coarse_cell
        The same where one box is marked `coarse` or a species is coarse: then for the whole
        trail, since two grids in one trail give each other away.
    unmarked
        What a box is whose column `public` is blank.
    delay_days
        How many days after a month its nests are published.
    ongoing
        Whether a nest not published yet is withheld, or its box counts as in use.
    coarse_species, withheld_species
        Species, by any name of the guide, that make the whole trail coarse, or are never shown.
    released
        Which of paths, places and zones are shown, with their names, if the trail is not coarse.
    licence
        The terms under which the data may be used; empty = none has been named.
    in_region
        yes: what is public of the trail also counts in the pages of its folder's region.
    """

    open: str = "yes"
    name: str = ""
    region: str = ""
    contact: str = ""
    cell: float = 0.01
    coarse_cell: float = 0.1
    unmarked: str = "coarse"
    # Young birds stay near the nest for some weeks (common practice, no source).
    delay_days: int = 30
    ongoing: str = "withheld"
    coarse_species: tuple[str, ...] = ()
    withheld_species: tuple[str, ...] = ()
    released: tuple[str, ...] = ()
    licence: str = ""
    in_region: str = "no"

    def __post_init__(self) -> None:
        words.one_word(self.open, "open", words.YES_NO)
        words.one_word(self.in_region, "in_region", words.YES_NO)
        words.one_word(self.unmarked, "unmarked", words.PUBLIC)
        words.one_word(self.ongoing, "ongoing", ONGOING)
        for name in self.released:
            words.one_word(name, "released", LAYERS)
        for column in ("cell", "coarse_cell"):
            if getattr(self, column) not in CELLS_DEG:
                sizes = ", ".join(f"{size:g}" for size in CELLS_DEG)
                raise BadValue(f"one of {sizes} degrees", f"{getattr(self, column)}", column=column)
        if self.coarse_cell < self.cell:
            raise BadValue(
                f"a coarse cell no smaller than the other, {self.cell:g}",
                f"{self.coarse_cell:g}",
                column="coarse_cell",
            )
        if not 0 <= self.delay_days <= MAX_DELAY_DAYS:
            raise BadValue(f"0 to {MAX_DELAY_DAYS} days", str(self.delay_days), column="delay_days")

    @property
    def is_open(self) -> bool:
        return self.open == "yes"

    @property
    def is_in_region(self) -> bool:
        return self.is_open and self.in_region == "yes"

    def shown_as(self, word: str | None) -> Literal["shown", "coarse"] | None:
        """How a box is shown whose column `public` has this word; None = not at all.

        An unknown word, written by a desktop GIS, hides the box.
        """
        match self.unmarked if word is None else word:
            case "shown":
                return "shown"
            case "coarse":
                return "coarse"
        return None

    def with_text(self, name: str, text: str) -> Self:
        """These rules with one of them as a person types it; a list is joined by `;`.

        Raises
        ------
        BadValue
            There is no such rule, or it cannot hold this.
        """
        known = [field.name for field in fields(self)]
        rule = words.one_word(name.replace("-", "_"), "public", known)
        read = _READ[type(getattr(self, rule))]
        try:
            value = read(text.strip())
        except ValueError as error:
            raise BadValue("a number", repr(text), column=rule) from error
        return replace(self, **{rule: value})

    def to_text(self) -> list[tuple[str, str]]:
        """Each rule's name and value in words."""
        return [(name.replace("_", " "), _to_text(value)) for name, value in vars(self).items()]

    def as_json(self) -> dict[str, Any]:
        """The rules that differ from the defaults."""
        plain = asdict(type(self)())
        return {name: value for name, value in asdict(self).items() if value != plain[name]}

    @classmethod
    def from_json(cls, held: Mapping[str, Any]) -> Self:
        """The rules that `as_json` gave; `BadValue` names what is wrong."""
        kinds: dict[str, type] = {name: type(value) for name, value in vars(cls()).items()}
        given: dict[str, Any] = {}
        for name, value in held.items():
            kind = kinds.get(name)
            if kind is None:
                raise BadValue(f"one of {', '.join(kinds)}", repr(name), column="public_rules")
            if not isinstance(value, (list, tuple) if kind is tuple else _JSON_KINDS[kind]):
                raise BadValue(_JSON_EXPECTED[kind], repr(value), column=name)
            given[name] = tuple(map(str, value)) if kind is tuple else kind(value)
        return cls(**given)


def _to_text(value: Any) -> str:
    if isinstance(value, tuple):
        return "; ".join(value) or "none"
    return f"{value:g}" if isinstance(value, float) else str(value) or "none"


def _listed(text: str) -> tuple[str, ...]:
    return tuple(dict.fromkeys(part.strip() for part in text.split(";") if part.strip()))


_READ: Mapping[type, Callable[[str], Any]] = MappingProxyType(
    {str: str, int: int, float: float, tuple: _listed}
)
_JSON_KINDS: Mapping[type, Any] = MappingProxyType({str: str, int: int, float: (int, float)})
_JSON_EXPECTED: Mapping[type, str] = MappingProxyType(
    {str: "a text", int: "a whole number", float: "a number", tuple: "a list of texts"}
)
