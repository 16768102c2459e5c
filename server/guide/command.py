"""The command that shows the guide."""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from dataclasses import fields
from pathlib import Path
from typing import Any

from layers.nesting.guide import Guide, Span, Species, guide_with, standard_guide
from layers.trail.store import Trail
from server.terminal import add_json, print_json, print_table


def _arguments(command: argparse.ArgumentParser) -> None:
    command.add_argument("--trail", type=Path, help="with this trail's own figures laid over it")
    command.add_argument("--species", help="one species with every number and its source")
    add_json(command)
    command.set_defaults(run=_guide)


def _guide(arguments: argparse.Namespace) -> int:
    guide = standard_guide()
    if arguments.trail is not None:
        with Trail.open(arguments.trail) as trail:
            guide = guide_with(trail.settings().guide)
    if arguments.species is not None:
        _print_one(guide, guide.find(arguments.species), as_json=arguments.json)
    elif arguments.json:
        print_json([_record(guide, species) for species in guide.species])
    else:
        print_table(
            ("species", "scientific name", "clutch", "incubation days", "nestling days", "hole mm"),
            [
                (
                    species.common,
                    species.scientific,
                    _span_text(species.clutch),
                    _span_text(species.incubation_days),
                    _span_text(species.nestling_days),
                    _span_text(species.hole_mm),
                )
                for species in guide.species
            ],
        )
        print("Every number with its source: boxround guide --species NAME")
    return 0


def _span_text(span: Span | None) -> str:
    if span is None:
        return ""
    low, high = f"{span.low:g}", f"{span.high:g}"
    return low if low == high else f"{low} to {high}"


def _spans(species: Species) -> Iterator[tuple[str, Span]]:
    for field in fields(species):
        value = getattr(species, field.name)
        if isinstance(value, Span):
            yield field.name, value


def _record(guide: Guide, species: Species) -> dict[str, Any]:
    record: dict[str, Any] = {
        "common": species.common,
        "scientific": species.scientific,
        "regions": list(species.regions),
        "nest": species.nest,
        "eggs": species.eggs,
        "parasites": species.parasites,
        "leaves_at_once": species.leaves_at_once,
    }
    for name, span in _spans(species):
        record[name] = {
            "low": span.low,
            "high": span.high,
            "usual": span.usual,
            "from_memory": span.memory,
            "sources": list(guide.citations(span.sources)),
        }
    return record


def _print_one(guide: Guide, species: Species, *, as_json: bool) -> None:
    if as_json:
        print_json(_record(guide, species))
        return
    print(f"{species.common} ({species.scientific}): {', '.join(species.regions)}")
    looks = (("Nest", species.nest), ("Eggs", species.eggs), ("Parasites", species.parasites))
    for words, text in looks:
        if text:
            print(f"{words}: {text}.")
    print_table(
        ("", "range", "from memory", "sources"),
        [
            (
                name.replace("_", " "),
                _span_text(span),
                "yes" if span.memory else "",
                "; ".join(guide.citations(span.sources)),
            )
            for name, span in _spans(species)
        ],
    )


ARGUMENTS = {"guide": _arguments}
