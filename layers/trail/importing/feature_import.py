"""Adds the boxes and paths of a proposal: all in one transaction, or nothing and every reason."""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import ExitStack
from datetime import date
from itertools import islice
from typing import Any, cast

from layers.errors import Fault
from layers.trail.importing.columns import Kind
from layers.trail.importing.features import feature_intake
from layers.trail.importing.job import PREVIEW_ROWS, ImportResult
from layers.trail.importing.proposing.feature_questions import Feature
from layers.trail.importing.proposing.features import FeatureProposal
from layers.trail.importing.source import Findings
from layers.trail.importing.spool import Spool
from layers.trail.inserting import insert_rows
from layers.trail.store import Trail


def import_features(
    proposal: FeatureProposal, trail: Trail, *, today: date, dry_run: bool = False
) -> ImportResult:
    """Import the features that a file was understood to hold.

    Raises
    ------
    Refused
        With every fault, open questions among them; the trail is as it was.
    """
    findings = Findings()
    findings.add_faults(proposal.faults)
    for feature in proposal.features:
        findings.add_faults(_faults(feature, proposal))
    if not proposal.features:
        came = "none that names one and its place"
        findings.add_faults([Fault(f"{proposal.kind} to add", came, file=proposal.file)])
    kinds = list(dict.fromkeys(one.kind for one in proposal.features if one.kind))
    with ExitStack() as stack:
        spools = {kind: stack.enter_context(Spool()) for kind in kinds}
        intakes = {
            kind: feature_intake(
                trail,
                cast(Kind, kind),
                form=proposal.form,
                reprojector=proposal.reprojector,
                today=today,
                spool=spool,
                findings=findings,
                apart=proposal.apart,
            )
            for kind, spool in spools.items()
        }
        preview: list[Mapping[str, Any]] = []
        for feature in proposal.features:
            if feature.kind and not feature.open and not feature.faults:
                preview += intakes[feature.kind].add_row(feature.raw, feature.row)
        for intake in intakes.values():
            intake.finish()
        findings.refuse(proposal.file)
        if not dry_run and any(map(len, spools.values())):
            with trail.write() as connection:
                for kind, spool in spools.items():
                    insert_rows(connection, kind, spool.rows())
        notes = [*proposal.notes, proposal.reprojector.note(), *findings.notes()]
        return ImportResult(
            kind=proposal.kind,
            file=proposal.file,
            added=len(spools.get(proposal.kind, ())),
            already_there=sum(intake.already_there for intake in intakes.values()),
            dry_run=dry_run,
            preview=tuple(islice(preview, PREVIEW_ROWS)),
            columns=proposal.columns,
            ignored=proposal.unused,
            notes=tuple(note for note in notes if note),
            beside={kind: len(spool) for kind, spool in spools.items() if kind != proposal.kind},
        )


def _faults(feature: Feature, proposal: FeatureProposal) -> list[Fault]:
    waiting = [one for one in proposal.questions if one.key in feature.open]
    return [
        *feature.faults,
        *(
            Fault(
                f"an answer to: {one.text}", "none yet", file=proposal.file, row=feature.row.number
            )
            for one in waiting
        ),
    ]
