"""What nests were lost to, by guard, box or any other grouping, with the days at risk."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from layers.nesting.season.apparent import ENOUGH_NESTS
from layers.nesting.season.comparison import Comparison, compare_groups
from layers.nesting.season.doubts import few, format_cases
from layers.nesting.season.likelihood import likelihood_survival
from layers.nesting.season.mayfield import nest_days
from layers.nesting.season.resampling import LEAST_NESTS, resampled
from layers.nesting.season.result import TAIL, About, Interval, Measure, Quantity
from layers.nesting.season.tables import SeasonTable

ABOUT = About(
    method="losses to a cause / nest-days at risk (losses halfway), exact Poisson interval",
    assumptions=(
        "Signs at the nest show the cause rightly; an unknown one counts as such.",
        "Every nest of the group runs the same risk on every day.",
    ),
    not_when=(
        "Groups differ in other things too: guards are fitted where predators are. Use the "
        "regression.",
    ),
    reference="Garwood 1936, Biometrika 28:437-442 (interval; from memory)",
)


@dataclass(frozen=True)
class GroupLosses:
    """One group of nests.

    Attributes
    ----------
    survival
        Daily survival by likelihood.
    by_cause
        Daily rate of loss to each cause that occurs.
    enough
        Whether there are as many nests as an estimate needs; else the answer is that
        there are too few.
    """

    group: str
    nests: int
    nest_days: float
    survival: Measure
    by_cause: dict[str, Measure]
    enough: bool

    @property
    def losses(self) -> int:
        """Nests lost, to any cause."""
        return sum(int(measure.parts["losses"]) for measure in self.by_cause.values())

    def sentence(self) -> str:
        """The group in words; "not enough data" is an answer."""
        seen = (
            f"{format_cases(self.losses, 'losses')} in {self.nest_days:.0f} nest-days of "
            f"{format_cases(self.nests, 'nests')}"
        )
        if not self.enough:
            return f"{self.group}: not enough data ({seen}; {ENOUGH_NESTS} nests are needed)."
        causes = ", ".join(
            f"{int(measure.parts['losses'])} {cause}" for cause, measure in self.by_cause.items()
        )
        return f"{self.group}: {seen}{f' ({causes})' if causes else ''}."


@dataclass(frozen=True)
class Losses:
    """Groups side by side, in the order of their names.

    `comparison` tests whether their daily survival differs, among the groups with at least
    `LEAST_NESTS`. `without_group` counts attempts whose group is not known.
    """

    groups: tuple[GroupLosses, ...]
    comparison: Comparison
    without_group: int


def losses_by(table: SeasonTable, labels: Sequence[str | None]) -> Losses:
    """What nests of each group were lost to, and whether groups differ.

    Parameters
    ----------
    labels
        The group of each attempt, as the guards of its box (`nest_covariates`); None = not
        known.
    """
    groups = tuple(
        _group(name, own) for name, own in table.grouped(labels).items() if own.laid.any()
    )
    rates = {group.group: group.survival for group in groups if group.survival.n >= LEAST_NESTS}
    without = sum(label is None for label, laid in zip(labels, table.laid, strict=True) if laid)
    comparison = compare_groups(rates, shuffled=resampled(table, labels))
    return Losses(groups, comparison, without)


def _group(name: str, table: SeasonTable) -> GroupLosses:
    found = nest_days(table)
    lost = np.zeros(len(table), bool)
    lost[table.intervals.nest[table.intervals.lost]] = True
    causes = np.array([cause or "" for cause in table.causes()], object)
    by_cause = {
        cause: loss_rate(int(np.sum(lost & (causes == cause))), found.days, cause=cause)
        for cause in sorted(set(causes[lost].tolist()) - {""})
    }
    return GroupLosses(
        group=name,
        nests=found.nests,
        nest_days=found.days,
        survival=likelihood_survival(table),
        by_cause=by_cause,
        enough=found.nests >= ENOUGH_NESTS,
    )


def loss_rate(losses: int, days: float, *, cause: str) -> Measure:
    """The daily rate of loss to a cause, with its exact Poisson interval."""
    from scipy.special import gammaincinv  # noqa: PLC0415 - slow to load, and seldom needed

    name = f"daily rate of loss ({cause})"
    rate = Quantity(name, "per day", "nest-days", ABOUT, "day at risk")
    if days == 0:
        return rate.without_answer()
    low = float(gammaincinv(losses, TAIL)) if losses else 0.0
    high = float(gammaincinv(losses + 1, 1 - TAIL))
    return rate.measured(
        losses / days,
        interval=Interval(low / days, high / days, "exact Poisson"),
        standard_error=losses**0.5 / days if losses else None,
        n=int(days),
        # With fewer than five losses a rate is largely chance (common practice, no source).
        warnings=few(losses, 5, "losses"),
        parts={"losses": losses, "nest-days": days},
    )
