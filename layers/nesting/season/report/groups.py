"""The nests of a season by one grouping, and the same groups over all seasons."""

from __future__ import annotations

from collections import Counter

import numpy as np
import pandas as pd

from layers.nesting import attempt_columns as c
from layers.nesting.season.apparent import apparent_success
from layers.nesting.season.box_use import box_use
from layers.nesting.season.covariates import Covariates
from layers.nesting.season.fledglings import fledged_per_attempt, fledged_per_box
from layers.nesting.season.losses import losses_by
from layers.nesting.season.periods import Periods, period_survival
from layers.nesting.season.report.counting import counts_of
from layers.nesting.season.report.facts import GroupFacts, Groups
from layers.nesting.season.report.groupings import grouping
from layers.nesting.season.result import Measure
from layers.nesting.season.tables import SeasonTable
from layers.nesting.season.young import YoungFledged
from layers.nesting.timeline import Service
from layers.trail.settings import Settings

MAX_GROUPS = 40
"""Groups that a report lists, and levels of a factor in its models: more are unreadable on
paper, and make a model of many coefficients."""

_ALL = "all nests"


def groups_of(
    covariates: Covariates,
    so_far: SeasonTable,
    young: YoungFledged,
    *,
    by: str,
    season: int,
    boxes: pd.DataFrame,
    service: Service,
    settings: Settings,
    lengths: Periods | None,
) -> Groups:
    given = grouping(by)
    table = so_far.of_season(season)
    of_boxes = given.of_each_box(boxes, ids=so_far.boxes, units=settings.units)
    every = np.array(given.of_nests(so_far, covariates, settings.units), object)
    nests = Counter({label: 0 for label in of_boxes or [] if label is not None})
    nests.update(label for label in every[so_far.laid].tolist() if label is not None)
    listed = [name for name, _ in sorted(nests.items(), key=lambda one: (-one[1], one[0]))]
    listed = listed[:MAX_GROUPS]
    kept = set(listed)
    every[[label not in kept for label in every.tolist()]] = None
    named = every[so_far.rows[:, c.SEASON] == season]
    losses = losses_by(table, named.tolist())
    with_losses = {group.group: group for group in losses.groups}
    of_box = None if of_boxes is None else np.array(of_boxes, object)
    facts = []
    for name in sorted(listed):
        own = table.take(named == name)
        used, per_box = None, None
        if of_box is not None:
            among = of_box == name
            used = box_use(table, season=season, service=service, among=among).used
            per_box = fledged_per_box(table.of_boxes(among), young)
        facts.append(
            GroupFacts(
                group=name,
                counts=counts_of(own),
                used=used,
                per_box=per_box,
                per_attempt=fledged_per_attempt(own, young),
                apparent=apparent_success(own),
                losses=with_losses.get(name),
            )
        )
    all_years = losses_by(so_far, every.tolist())
    # Where the length of nests is not known, there is no group either.
    whole_days = lengths.eggs.days + lengths.young.days if lengths else 0
    return Groups(
        by=by,
        words=given.words,
        season=tuple(facts),
        comparison=losses.comparison,
        without_group=losses.without_group,
        omitted=len(nests) - len(listed),
        all_years=all_years,
        success={
            one.group: period_survival(one.survival, days=whole_days, name="nest success")
            for one in all_years.groups
        },
    )


def losses_of(table: SeasonTable) -> dict[str, Measure]:
    groups = losses_by(table, [_ALL] * len(table)).groups
    return dict(groups[0].by_cause) if groups else {}
