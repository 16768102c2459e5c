"""The guide that ships, and the guide of one trail."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from types import MappingProxyType
from typing import Any

from layers.errors import Refused
from layers.nesting.guide.book import Guide, folded
from layers.nesting.guide.entries import COMPUTED, Entry, Report
from layers.nesting.guide.species import BOUNDS, REQUIRED, Source, Span, Species
from layers.trail.words import nearest_hint

_SHIPPED = ("north_america.toml", "europe.toml", "both_continents.toml")
_OWN = "the trail's own guide"
_UNKNOWN_NAMES = ("unknown species", "species not known", "unknown")


@cache
def standard_guide() -> Guide:
    """The guide that ships with Boxround."""
    report = Report("the guide that ships")
    sources = _sources(_shipped("sources.toml"), report)
    return _guide(_entries(), sources, report)


def guide_with(toml_text: str | None) -> Guide:
    r"""The guide of a trail: the standard one with the trail's own entries laid over it.

    Parameters
    ----------
    toml_text
        TOML in the form of the files beside this module: a table `species` and, if the
        numbers are to cite something, a table `sources`. A value given for a known
        species takes the place of ours; other names are new species. None or nothing
        but blanks gives the standard guide.

    Raises
    ------
    Refused
        Something in the text cannot be used; the error holds every fault.

    Examples
    --------
    >>> own = guide_with('[species."House Wren"]\nincubation_days = { low = 12, high = 15 }')
    >>> own.find("house wren").incubation_days.high
    15
    """
    if toml_text is None or not toml_text.strip():
        return standard_guide()
    standard, report = standard_guide(), Report(_OWN)
    tables = _parsed(toml_text, report)
    sources = dict(standard.sources)
    for key, source in _sources(tables["sources"], report).items():
        if key in sources:
            report.add("a source name that the guide does not use", repr(key), at="sources")
        sources[key] = source
    entries, seen = dict(_entries()), set[str]()
    for name, table in tables["species"].items():
        common = _common_name(name, standard)
        if folded(common) in seen or not folded(common):
            report.add("the name of a species, and each species once", repr(name), at="species")
        elif not isinstance(table, dict):
            report.add("a table of values", repr(table), at=common)
        else:
            merged = {**entries.get(common, {}), **table}
            missing = [key for key in ("scientific", *REQUIRED) if key not in merged]
            if missing:
                known = nearest_hint(common, [one.common for one in standard.species])
                expected = f"a species of the guide{known}, or {', '.join(missing)} of a new one"
                report.add(expected, repr(name), at="species")
            else:
                entries[common] = merged
        seen.add(folded(common))
    return _guide(entries, sources, report)


def _common_name(name: str, guide: Guide) -> str:
    known = guide.get(name)
    return known.common if known else " ".join(name.lower().split())


def _guide(entries: Mapping[str, Any], sources: Mapping[str, Source], report: Report) -> Guide:
    read = (Entry(name, table, sources, report).species() for name, table in entries.items())
    by_common = {one.common: one for one in read if one is not None}
    _check_names(entries, report)
    if report.faults:
        raise Refused(f"Nothing of {report.file} was taken:", tuple(report.faults))
    return Guide(
        species=tuple(by_common[common] for common in sorted(by_common)),
        unknown=_unknown([by_common[common] for common in _shipped("unknown.toml")["like"]]),
        sources=MappingProxyType(dict(sources)),
    )


def _check_names(entries: Mapping[str, Any], report: Report) -> None:
    taken = {folded(name): _UNKNOWN_NAMES[0] for name in _UNKNOWN_NAMES}
    for common, table in entries.items():
        also = table.get("also", [])
        names = [common, table["scientific"], *(also if isinstance(also, list) else [])]
        for plain, name in {folded(name): name for name in names if isinstance(name, str)}.items():
            if not plain:
                report.add("a name with letters", repr(name), at=common)
            elif plain in taken:
                came = f"{name!r} for {taken[plain]} and for {common}"
                report.add("each name for one species only", came, at="species")
            taken[plain] = common


def _unknown(like: list[Species]) -> Species:
    """A species that spans all of `like` in what an attempt is dated by."""
    spans: dict[str, Span | None] = dict.fromkeys(BOUNDS)
    for name in (*REQUIRED, "clutch_range", "closed_from_day"):
        theirs: list[Span] = [span for one in like if (span := getattr(one, name)) is not None]
        spans[name] = Span(
            low=min(span.low for span in theirs),
            high=max(span.high for span in theirs),
            usual=None,
            sources=(COMPUTED,),
            memory=any(span.memory for span in theirs),
        )
    common, scientific, *also = _UNKNOWN_NAMES
    values: dict[str, Any] = spans
    return Species(
        common=common,
        scientific=scientific,
        also=tuple(also),
        regions=(),
        nest=None,
        eggs=None,
        parasites=None,
        look_sources=(),
        alike=None,
        leaves_at_once=False,
        starts_before_last_egg=True,
        **values,
    )


def _sources(tables: Mapping[str, Any], report: Report) -> dict[str, Source]:
    found = {}
    for key, table in tables.items():
        at = f"sources, {key}"
        if not (isinstance(table, dict) and isinstance(table.get("citation"), str)):
            report.add('a table with citation = "..."', repr(table), at=at)
            continue
        report.unknown_keys(table, ("citation", "memory"), at=at)
        memory = table.get("memory", False)
        if not isinstance(memory, bool):
            report.add("memory as true or false", repr(memory), at=at)
        found[key] = Source(table["citation"], bool(memory))
    return found


def _parsed(text: str, report: Report) -> dict[str, dict[str, Any]]:
    """The two tables of a guide file; empty where the text has none."""
    tables: dict[str, Any] = {}
    try:
        tables = tomllib.loads(text)
    except (ValueError, RecursionError) as slip:  # the latter from lists nested too deep
        # The parser says where only in words: "... (at line 3, column 7)".
        line = re.search(r"at line (\d+)", str(slip))
        report.add("valid TOML", f"a slip: {slip}", row=int(line[1]) if line else None)
    report.unknown_keys(tables, ("species", "sources"))
    for name in ("species", "sources"):
        if not isinstance(tables.setdefault(name, {}), dict):
            report.add("a table", repr(tables[name]), at=name)
            tables[name] = {}
    return tables


@cache
def _entries() -> Mapping[str, Any]:
    """The tables of the shipped species, by common name."""
    return {
        common: table for file in _SHIPPED for common, table in _shipped(file)["species"].items()
    }


@cache
def _shipped(file: str) -> Mapping[str, Any]:
    return tomllib.loads(files(__package__).joinpath(file).read_text(encoding="utf-8"))
