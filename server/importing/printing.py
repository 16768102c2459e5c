"""What the command that imports a file prints: what was understood, open and added."""

from __future__ import annotations

import sys
from collections.abc import Mapping
from pathlib import Path

from layers.errors import Conflict, Refused
from layers.trail.importing import ImportResult, Kind
from layers.trail.importing.proposing import Proposal
from layers.trail.importing.proposing.features import FeatureProposal
from layers.trail.importing.proposing.recipe import Understood, places_text, recipe_text

ONE = {"boxes": "box", "visits": "visit", "paths": "path", "places": "place", "zones": "zone"}
"""A table, and one row of it."""

ALMOST_ALL = 0.999
HINT = (
    "Boxround can ask about these cells, once for all alike: run the same with --propose"
    " RECIPE.toml."
)

MAX_QUESTIONS = 20
"""Questions that are printed; `boxround check` lists all of them."""


def with_questions(proposal: Understood) -> str:
    """Why nothing was added, with each question and where it comes up."""
    lines = [
        f"{proposal.file} has {len(proposal.questions)} questions to answer first; nothing was"
        " added. Run boxround add with --propose RECIPE.toml, put the answers into that file, and"
        " run it with --recipe RECIPE.toml:"
    ]
    for one in proposal.questions:
        lines.append(f"  {one.text} ({places_text(one.places)})")
    return "\n".join(lines)


def questions_first(proposal: Understood, refusal: Refused | None) -> Refused:
    """The error where questions are open: what was wrong by the header, or the questions."""
    return Refused(with_questions(proposal) if refusal is None else f"{refusal}\n{HINT}", ())


def write_recipe(
    proposal: Proposal | FeatureProposal, path: Path, *, content: str, kind: Kind, found: int
) -> None:
    """Write how a file is read and what is open to a new file, and print it."""
    try:
        with path.open("x", encoding="utf-8") as file:
            file.write(recipe_text(proposal, content=content, kind=kind))
    except FileExistsError:
        raise Conflict(f"{path} exists; give another name, or move it away") from None
    print_understood(proposal)
    print(
        f"{proposal.file}: {found} {kind} found, {len(proposal.questions)} questions open; written"
        f" to {path}. Nothing was added."
    )


def print_understood(proposal: Proposal | FeatureProposal) -> None:
    """What was read in another way than it is written, and what was left out."""
    for one in proposal.decisions:
        if one.section != "columns":
            print(f"{one.section.capitalize()}: {one.item!r} is {one.value} ({one.grounds}).")
    for place, why in proposal.left_out:
        sheet = f" of {place.sheet}" if place.sheet else ""
        print(f"Row {place.row}{sheet} left out: {why}." if place.row else f"Left out: {why}.")


def show_progress(done: int, total: int | None) -> None:
    share = f"{done / total:6.1%}" if total else f"{done:,}"
    end = "\n" if total and done >= ALMOST_ALL * total else ""
    print(f"\r{share} read", end=end, file=sys.stderr, flush=True)


def counted_text(main: str, counts: Mapping[str, int]) -> str:
    """How many rows of each table, those of the main one even where there are none."""
    return " and ".join(
        f"{count} {ONE[kind] if count == 1 else kind}"
        for kind, count in counts.items()
        if count or kind == main
    )


def print_result(result: ImportResult) -> None:
    would = "would be added" if result.dry_run else "added"
    counts = {result.kind: result.added, **result.beside}
    print(f"{result.file}: {counted_text(result.kind, counts)} {would}", end="")
    there = result.already_there
    print(f", {there} already there." if there else ".")
    renamed = [
        f"{ours} from {theirs!r}" for ours, theirs in result.columns.items() if ours != theirs
    ]
    if renamed:
        print(f"Columns: {', '.join(renamed)}.")
    if result.own:
        names = ", ".join(result.own)
        print(f"Kept with the visits as your own columns: {names}. Use --map if one is ours.")
    if result.ignored:
        print(f"Not used: {', '.join(result.ignored)}. Use --map if one of them is ours.")
    if result.import_id is not None:
        print(f"To take this back: boxround take-back TRAIL {result.import_id}")
    for note in result.notes:
        print(f"Note: {note}.")
    for question in result.questions[:MAX_QUESTIONS]:
        print(f"Please check: {question}")
    if more := len(result.questions[MAX_QUESTIONS:]) + result.more_questions:
        print(f"and {more:,} more: `boxround check` lists them all.")
    if result.dry_run:
        for row in result.preview:
            cells = (f"{name} {value}" for name, value in row.items() if value is not None)
            print(f"  {', '.join(cells)}")
