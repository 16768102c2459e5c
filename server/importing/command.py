"""The command that imports a file into a trail."""

from __future__ import annotations

import argparse
import csv
import sys
from collections.abc import Callable, Mapping
from functools import partial
from pathlib import Path
from types import MappingProxyType

from layers.errors import BadValue, Conflict, Refused
from layers.nesting.guide import Guide, guide_with
from layers.trail.importing import KINDS, ImportResult, import_file, import_proposal
from layers.trail.importing.background.adding import remove_background
from layers.trail.importing.proposing import Proposal, read_grids
from layers.trail.importing.proposing.grids import BOOK_SUFFIXES, Sheets
from layers.trail.importing.proposing.recipe import (
    content_of,
    is_as_headed,
    read_recipe,
    remember,
)
from layers.trail.importing.withdrawing import imports, withdraw_import
from layers.trail.removing import REMOVABLE, numbers_of, remove
from layers.trail.store import Trail
from server.importing.asking import ask_all
from server.importing.background_command import add_background_arguments, add_background_file
from server.importing.feature_command import FeatureFile
from server.importing.plausibility import asking
from server.importing.printing import (
    print_result,
    print_understood,
    questions_first,
    show_progress,
    write_recipe,
)
from server.importing.understanding import understand_sheets
from server.live.clock import Clock
from server.terminal import add_trail, print_table


def _arguments(command: argparse.ArgumentParser) -> None:
    command.add_argument("kind", choices=(*KINDS, "background"), help="what the file holds")
    command.add_argument("file", type=Path, metavar="FILE")
    add_trail(command)
    command.add_argument(
        "--map",
        nargs="+",
        default=[],
        metavar="OURS=THEIRS",
        help="which of the file's columns is which of ours, such as box=Number",
    )
    command.add_argument(
        "--crs",
        help="reference system of the coordinates, such as EPSG:32618, unless the file states it",
    )
    command.add_argument(
        "--dates", choices=("day-first", "month-first"), help="how dates like 3/4/2026 are meant"
    )
    command.add_argument(
        "--far",
        action="store_true",
        help="places far from the trail are right; without it they are refused",
    )
    command.add_argument("--dry-run", action="store_true", help="check and show, add nothing")
    command.add_argument(
        "--propose",
        type=Path,
        metavar="RECIPE",
        help="visits, boxes, paths: write how the file is read and what is open; add nothing",
    )
    command.add_argument(
        "--recipe", type=Path, metavar="RECIPE", help="add by a recipe of --propose"
    )
    command.add_argument(
        "--rows-that-are-clear",
        action="store_true",
        help="visits: add these alone, and write the other rows to FILE-left.csv",
    )
    add_background_arguments(command)
    command.set_defaults(run=_add)


def _add(args: argparse.Namespace) -> int:
    with Trail.open(args.trail) as trail:
        if args.kind == "background":
            return add_background_file(args, trail)
        guide = guide_with(trail.settings().guide)
        if args.kind == "visits" and not args.map and args.dates is None and args.crs is None:
            return _Visits(args, trail, guide).add()
        if args.kind in ("boxes", "paths") and not args.map and not args.rows_that_are_clear:
            today = Clock().today(trail.settings().zone)
            file = FeatureFile(args, trail, today=today)
            return file.add(partial(_by_header, args, trail, guide))
        for name in ("propose", "recipe", "rows_that_are_clear"):
            if getattr(args, name):
                option = f"--{name.replace('_', '-')}"
                raise BadValue(f"{option} without --map, --dates, --crs", option)
        print_result(_by_header(args, trail, guide))
    return 0


def _by_header(args: argparse.Namespace, trail: Trail, guide: Guide) -> ImportResult:
    """A file whose first row names the columns as we do, or nearly."""
    return import_file(
        args.kind,
        args.file,
        trail,
        today=Clock().today(trail.settings().zone),
        species=lambda name: guide.find(name).common,
        columns=dict(_pair(text) for text in args.map),
        crs=args.crs,
        dates=args.dates,
        ask=asking(trail, guide),
        far_is_right=args.far,
        dry_run=args.dry_run,
        progress=show_progress if sys.stderr.isatty() else None,
    )


class _Visits:
    """A file of visits, read by its header where that is ours, else as it is understood."""

    def __init__(self, args: argparse.Namespace, trail: Trail, guide: Guide) -> None:
        self._args = args
        self._trail = trail
        self._guide = guide
        self._today = Clock().today(trail.settings().zone)

    def add(self) -> int:
        args = self._args
        refusal: Refused | None = None
        answers: Mapping[str, Mapping[str, str]] = {}
        if args.recipe:
            answers = read_recipe(args.recipe, source=args.file)
        by_header = not args.recipe or is_as_headed(answers, args.file)
        if by_header and not (args.propose or args.rows_that_are_clear):
            try:
                if args.file.suffix.lower() not in BOOK_SUFFIXES or not args.file.is_file():
                    print_result(_by_header(args, self._trail, self._guide))
                    return 0
            except Refused as error:
                if not args.file.is_file():
                    raise
                refusal = error
        try:
            content = content_of(args.file)  # before it is read, so that a change is noticed
            sheets = read_grids(args.file)
            proposal = self._understood(sheets, answers)
        except Refused as error:
            raise refusal or error from None
        if refusal is not None and not proposal.records:
            raise refusal
        if args.propose:
            found = len(proposal.records)
            write_recipe(proposal, args.propose, content=content, kind="visits", found=found)
            return 0
        if proposal.questions and sys.stdin.isatty() and sys.stdout.isatty() and not args.recipe:
            proposal, answers = ask_all(proposal, partial(self._understood, sheets))
        elif proposal.questions and not (args.rows_that_are_clear or args.recipe):
            raise questions_first(proposal, refusal)
        self._import(proposal, answers, sheets)
        return 0

    def _understood(self, sheets: Sheets, answers: Mapping[str, Mapping[str, str]]) -> Proposal:
        return understand_sheets(
            sheets,
            self._trail,
            self._guide,
            today=self._today,
            answers=answers,
            name=self._args.file.name,
        )

    def _import(
        self, proposal: Proposal, answers: Mapping[str, Mapping[str, str]], sheets: Sheets
    ) -> None:
        args = self._args
        left = args.file.with_name(f"{args.file.stem}-left.csv")
        if args.rows_that_are_clear and not args.dry_run and left.exists():
            raise Conflict(f"{left.name} exists; move it away first")
        result = import_proposal(
            proposal,
            self._trail,
            today=self._today,
            species=lambda name: self._guide.find(name).common,
            ask=asking(self._trail, self._guide),
            clear_only=args.rows_that_are_clear,
            dry_run=args.dry_run,
            progress=show_progress if sys.stderr.isatty() else None,
        )
        print_understood(proposal)
        print_result(result)
        if args.dry_run:
            return
        remember(self._trail, answers)
        if result.unclear:
            _write_left(left, result, sheets, proposal)


def _write_left(left: Path, result: ImportResult, sheets: Sheets, proposal: Proposal) -> None:
    """The rows that wait, below the rows above the first visit, so that the layout stays."""
    rows_of: dict[str, set[int]] = {}
    for sheet, row, _ in result.unclear:
        rows_of.setdefault(sheet, set()).add(row)
    with left.open("x", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        for grid in sheets.grids:
            if grid.sheet not in rows_of:
                continue
            first = min(one.row for one in proposal.records if one.sheet == grid.sheet)
            wanted = [*range(1, first), *sorted(rows_of[grid.sheet] - set(range(1, first)))]
            writer.writerows(grid.rows[row - 1] for row in wanted)
    print(f"{len(result.unclear)} visits wait; their rows are in {left.name}:")
    for sheet, row, why in result.unclear[:20]:
        print(f"  row {row}{f' of {sheet}' if sheet else ''}: {why}")


def _pair(text: str) -> tuple[str, str]:
    ours, equals, theirs = text.partition("=")
    if not equals:
        raise BadValue("OURS=THEIRS, such as box=Number", repr(text), column="map")
    return ours, theirs


def _take_back_arguments(command: argparse.ArgumentParser) -> None:
    add_trail(command)
    command.add_argument(
        "import_id", nargs="?", metavar="IMPORT", help="id of the import; without it, list them"
    )
    command.set_defaults(run=_take_back)


def _take_back(args: argparse.Namespace) -> int:
    with Trail.open(args.trail) as trail:
        if args.import_id is None:
            rows = [(one.id, one.entered_at, one.added, one.current) for one in imports(trail)]
            print_table(("import", "entered", "visits", "of them valid"), rows)
        else:
            count = withdraw_import(trail, args.import_id)
            print(f"{count} visits withdrawn; they stay in the file and no longer count.")
    return 0


def _remove_arguments(command: argparse.ArgumentParser) -> None:
    command.add_argument("kind", choices=(*REMOVABLE, "background"), help="what to remove")
    add_trail(command)
    command.add_argument(
        "names", nargs="*", metavar="NAME", help="id of a box; name, or # and number, of others"
    )
    command.set_defaults(run=_remove)


def _remove(args: argparse.Namespace) -> int:
    with Trail.open(args.trail) as trail:
        if args.kind == "background":
            remove_background(trail)
            print("The background is removed.")
            return 0
        if not args.names:
            raise BadValue("ids or names to remove", "none", column="names")
        count = remove(trail, args.kind, numbers_of(trail, args.kind, args.names))
    print(f"{count} {args.kind} removed.")
    return 0


ARGUMENTS: Mapping[str, Callable[[argparse.ArgumentParser], None]] = MappingProxyType(
    {"add": _arguments, "take-back": _take_back_arguments, "remove": _remove_arguments}
)
