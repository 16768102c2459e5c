"""The guide: every species, found by any of its names."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from types import MappingProxyType

from layers.errors import BadValue
from layers.nesting.guide.species import Source, Species
from layers.trail.words import nearest_words


@dataclass(frozen=True)
class OwnPeriod:
    """How long something took in the finished nests of one trail.

    Attributes
    ----------
    nests
        How many it rests on.
    mean_days
        Their mean.
    chances
        Number of days -> chance, between the guide's and that of the nests.
    """

    nests: int
    mean_days: float
    chances: Mapping[int, float]


@dataclass(frozen=True)
class OwnPeriods:
    """What one trail's nests of a species show; None where they are too few.

    Attributes
    ----------
    incubation
        From the last egg to hatching; None too where sitting often starts before it.
    nestling
        From hatching until the young left.
    """

    incubation: OwnPeriod | None
    nestling: OwnPeriod | None


@dataclass(frozen=True, eq=False)
class Guide:
    """The species table.

    Attributes
    ----------
    species
        All species, sorted by common name.
    unknown
        Stands for the species of an attempt without a name: its spans take in
        what any small songbird of the guide shows. `find` knows it as "unknown".
    sources
        Source key -> citation, for every key that a span names.
    own
        Common name -> what the trail's own finished nests show (`dating.own_periods`).
    """

    species: tuple[Species, ...]
    unknown: Species
    sources: Mapping[str, Source]
    own: Mapping[str, OwnPeriods] = field(default_factory=lambda: MappingProxyType({}))

    def with_own(self, own: Mapping[str, OwnPeriods]) -> Guide:
        """The guide with the periods of a trail; with none, as it is printed."""
        if not own and not self.own:
            return self
        return replace(self, own=MappingProxyType(dict(own)))

    def get(self, name: str) -> Species | None:
        """The species that a name means, or None.

        Common and scientific names are known in any case, and with hyphens, spaces and
        apostrophes put in any way.
        """
        return self._by_name.get(folded(name))

    def find(self, name: str) -> Species:
        """The species that a name means.

        Raises
        ------
        BadValue
            No species has the name; the message gives the nearest names.

        Examples
        --------
        >>> from layers.nesting.guide import standard_guide
        >>> standard_guide().find("Bewicks Wren").scientific
        'Thryomanes bewickii'
        """
        species = self.get(name)
        if species is None:
            close = self._nearest(name)
            nearest = f" (nearest: {', '.join(close)})" if close else ""
            raise BadValue(f"a species of the guide{nearest}", repr(name), column="species")
        return species

    def known_name(self, name: str | None) -> str | None:
        """The common name of a species of the guide; None = it has none of that name.

        Whatever else was written down as a species is free text, which is never published.
        """
        species = None if name is None else self.get(name)
        return None if species is None or species is self.unknown else species.common

    def citations(self, sources: Iterable[str]) -> tuple[str, ...]:
        """The full citations of source keys."""
        return tuple(self.sources[key].citation for key in sources)

    @cached_property
    def _by_name(self) -> Mapping[str, Species]:
        everything = (self.unknown, *self.species)
        return {folded(name): one for one in everything for name in one.names}

    def _nearest(self, name: str) -> list[str]:
        """Species of whose name the words are a part ("kestrel"), else names that look alike."""
        words = set(name.casefold().split())
        part_of = [one.common for one in self.species if words <= set(one.common.split())]
        known = [name for one in self.species for name in one.names]
        return part_of if words and part_of else nearest_words(name, known)


def folded(name: str) -> str:
    """A name as its letters and digits alone, so that ways of writing it fall together."""
    plain = unicodedata.normalize("NFKC", name).casefold()
    return "".join(letter for letter in plain if letter.isalnum())
