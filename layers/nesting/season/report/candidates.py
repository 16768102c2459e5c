"""Candidate models of what survival depends on."""

from __future__ import annotations

import numpy as np

from layers.nesting.season.covariates import TERMS, Covariates
from layers.nesting.season.encoding import known
from layers.nesting.season.models import compare_models
from layers.nesting.season.periods import Periods
from layers.nesting.season.report.facts import SurvivalModels
from layers.nesting.season.report.groups import MAX_GROUPS
from layers.nesting.season.report.predicting import predictions
from layers.nesting.season.tables import SeasonTable

# A model's terms that most nests lack would take those nests from every model (common
# practice, no source).
_KNOWN_OF_MOST = 0.9

_CANDIDATES: tuple[tuple[str, ...], ...] = (
    (),
    ("stage",),
    ("stage", "species"),
    ("stage", "section"),
    ("stage", "habitat"),
    ("stage", "guards"),
    ("stage", "mount"),
    ("stage", "hole"),
    ("stage", "height"),
    ("stage", "facing"),
    ("stage", "box age"),
    ("stage", "nest age"),
    ("stage", "date"),
    ("stage", "date", "date squared"),
    ("stage", "year"),
    ("stage", "year trend"),
)
"""One thing at a time beside the stage: a season has too few losses for more."""


def models_of(
    table: SeasonTable, covariates: Covariates, lengths: Periods | None, units: str
) -> SurvivalModels | None:
    """Candidate models whose terms most nests have a value for, and not all the same one."""
    watched = np.unique(table.intervals.nest)
    if len(watched) == 0:
        return None

    def usable(name: str) -> bool:
        term = TERMS[name]
        if term.of_part:
            return True
        given = covariates[term.column][watched]
        there = known(given)
        levels = len(set(given[there].tolist()))
        fits = levels <= MAX_GROUPS or term.kind != "factor"
        return bool(there.mean() >= _KNOWN_OF_MOST and levels > 1 and fits)

    candidates = [terms for terms in _CANDIDATES if all(usable(name) for name in terms)]
    models = compare_models(table, covariates, candidates=candidates)
    predicted = predictions(models, table, covariates, lengths=lengths, units=units)
    return SurvivalModels(models.lines, models.unfit, models.left_out, predicted)
