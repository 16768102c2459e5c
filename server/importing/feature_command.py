"""Boxes and paths of a file: by its header where that is ours, else as it is understood."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable
from datetime import date

from layers.errors import Conflict, Refused
from layers.trail.importing import ImportResult
from layers.trail.importing.feature_import import import_features
from layers.trail.importing.proposing import Answers
from layers.trail.importing.proposing.features import FeatureProposal, propose_features
from layers.trail.importing.proposing.grids import MAX_TEXT_BYTES
from layers.trail.importing.proposing.recipe import (
    content_of,
    merged,
    read_recipe,
    remember,
    remembered,
)
from layers.trail.importing.vector import NAMES_BOXES
from layers.trail.store import Trail
from server.importing.asking import ask_all
from server.importing.printing import print_result, print_understood, questions_first, write_recipe


class FeatureFile:
    """One file to add, by the arguments of the command."""

    def __init__(self, args: argparse.Namespace, trail: Trail, *, today: date) -> None:
        self._args = args
        self._trail = trail
        self._today = today
        # Before it is read: what changes it from now on is noticed.
        self._content = content_of(args.file) if args.file.is_file() else ""

    def add(self, by_header: Callable[[], ImportResult]) -> int:
        """Add it; `by_header` is the way for a file whose first row names the columns as we do."""
        args = self._args
        refusal: Refused | None = None
        there = args.file.is_file()
        # Its names are looked at, unless there are more than a person can answer for.
        named_only = (
            there
            and args.kind == "boxes"
            and args.file.suffix.lower() in NAMES_BOXES
            and args.file.stat().st_size <= MAX_TEXT_BYTES
        )
        if not (args.propose or args.recipe or named_only) or not there:
            try:
                print_result(by_header())
            except Refused as error:
                if not there:
                    raise
                refusal = error
            else:
                return 0
        answers: Answers = {}
        if args.recipe:
            answers = read_recipe(args.recipe, source=args.file, kind=args.kind)
        try:
            proposal = self._understood(answers)
        except Refused as error:
            raise refusal or error from None
        if refusal is not None and not proposal.features:
            raise refusal
        if args.propose:
            write_recipe(
                proposal,
                args.propose,
                content=self._content,
                kind=args.kind,
                found=len(proposal.features),
            )
            return 0
        if proposal.questions and sys.stdin.isatty() and sys.stdout.isatty() and not args.recipe:
            proposal, answers = ask_all(proposal, self._understood)
        elif proposal.questions and not args.recipe:
            raise questions_first(proposal, refusal)
        self._import(proposal, answers, refusal)
        return 0

    def _understood(self, answers: Answers) -> FeatureProposal:
        if content_of(self._args.file) != self._content:
            raise Conflict(
                f"{self._args.file.name} changed while its questions were answered; nothing was"
                " added. Run the same again"
            )
        return propose_features(
            self._args.file,
            self._args.kind,
            self._trail,
            answers=merged(remembered(self._trail, self._args.kind), answers),
            crs=self._args.crs,
            far_is_right=self._args.far,
        )

    def _import(self, proposal: FeatureProposal, answers: Answers, refusal: Refused | None) -> None:
        args = self._args
        try:
            result = import_features(proposal, self._trail, today=self._today, dry_run=args.dry_run)
        except Refused as error:
            raise (error if answers else refusal or error) from None
        print_understood(proposal)
        print_result(result)
        if not args.dry_run and answers:
            remember(self._trail, answers, args.kind)
