"""Whether groups of nests differ in daily survival."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from layers.nesting.season.apparent import ENOUGH_NESTS
from layers.nesting.season.doubts import Doubt, GroupLeftOut, NoData, SmallSample, format_cases
from layers.nesting.season.resampling import Resampled
from layers.nesting.season.result import About, Measure

ABOUT = About(
    method=(
        "chi-squared of the differences between daily survival rates, by their standard errors; "
        "with two groups the square of z = (s1 - s2) / sqrt(V1 + V2)"
    ),
    assumptions=(
        "Nests of different groups are independent, and groups were not chosen by their outcome.",
        "Samples are large enough for the rates to be normally distributed.",
    ),
    not_when=(
        "A group has no loss: its standard error is 0. It is left out here.",
        "Groups differ in other things too (species, date): use the regression.",
        "The same boxes are in several groups.",
    ),
    reference=(
        "Sauer & Williams 1989, Journal of Wildlife Management 53:137-142; "
        "Hensler & Nichols 1981, Wilson Bulletin 93:42-53"
    ),
)


RESAMPLED_ABOUT = About(
    method=(
        "score test of one risk for all nests against a risk of its own for each group; p by "
        "shuffling boxes among groups (nests, where a box is in several)"
    ),
    assumptions=(
        "Were there no difference, any box could as well have been in any group.",
        "Groups were not chosen by their outcome.",
    ),
    not_when=(
        "Groups differ in other things too (species, date): use the regression.",
        "Unknown outcomes are much more frequent in one group than in another.",
    ),
    reference="Good 2005, Permutation, Parametric and Bootstrap Tests of Hypotheses (from memory)",
)

SURE = 0.05
"""Below this p a difference is called one (convention)."""


@dataclass(frozen=True)
class Comparison:
    """A test of no difference between groups.

    Attributes
    ----------
    chi_squared, degrees, p_value
        None where fewer than two groups could be compared; `warnings` says why.
    groups
        The measures compared, all that were given, by name.
    compared
        Names of the groups that the test used.
    n
        Nests in the groups compared.
    power_of_half
        The chance that a study of this size finds a risk half as high in the smallest group; None
        where groups were not resampled.
    """

    chi_squared: float | None
    degrees: int | None
    p_value: float | None
    groups: Mapping[str, Measure]
    compared: tuple[str, ...]
    n: int
    about: About
    warnings: tuple[Doubt, ...]
    power_of_half: float | None = None

    def sentence(self) -> str:
        """The outcome in words."""
        nests = format_cases(self.n, "nests")
        if self.p_value is None:
            return f"No comparison: fewer than two groups can be compared ({nests})."
        outcome = "differs" if self.p_value < SURE else "shows no difference"
        if self.chi_squared is None:
            groups = "; ".join(self.compared)
            return f"{groups}: daily survival {outcome} (p = {self.p_value:.4f}; {nests})."
        return (
            f"{'; '.join(self.compared)}: daily survival {outcome} "
            f"(chi-squared {self.chi_squared:.2f}, {self.degrees} df, p = {self.p_value:.3f}; "
            f"{nests})."
        )


def compare_groups(
    groups: Mapping[str, Measure], *, shuffled: Resampled | None = None
) -> Comparison:
    """Test whether daily survival rates of independent groups are the same.

    Parameters
    ----------
    groups
        A daily survival of each group, by `mayfield` or `likelihood_survival`.
    shuffled
        The same groups held against shuffled ones: their p then counts, also where a group had no
        loss and so no standard error.
    """
    by_errors = _by_errors(groups)
    if shuffled is None:
        return by_errors
    return replace(
        by_errors,
        p_value=shuffled.p_value,
        compared=shuffled.compared,
        n=shuffled.n,
        about=RESAMPLED_ABOUT,
        warnings=tuple(
            SmallSample(groups[name].n, ENOUGH_NESTS, "nests watched")
            for name in shuffled.compared
            if name in groups and groups[name].n < ENOUGH_NESTS
        ),
        power_of_half=shuffled.power_of_half,
    )


def _by_errors(groups: Mapping[str, Measure]) -> Comparison:
    warnings: list[Doubt] = []
    compared: list[str] = []
    for name, measure in groups.items():
        if measure.estimate is None:
            warnings.append(GroupLeftOut(name, "no nest of it was watched"))
        elif not measure.standard_error:
            reason = "none of its nests was lost" if measure.estimate == 1 else "none lived on"
            warnings.append(GroupLeftOut(name, reason))
        else:
            compared.append(name)
            warnings += [doubt for doubt in measure.warnings if isinstance(doubt, SmallSample)]
    n = sum(groups[name].n for name in compared)
    if len(compared) < 2:
        warnings.append(NoData("second group to compare with"))
        return Comparison(
            None, None, None, dict(groups), tuple(compared), n, ABOUT, tuple(warnings)
        )
    from scipy.special import chdtrc  # noqa: PLC0415 - slow to load, and seldom needed

    # With C the differences from the last group, (C s)' (C V C')^-1 (C s) is the sum of the
    # squared distances from the mean weighted by 1 / V.
    rates = np.array([groups[name].estimate for name in compared], float)
    weights = np.array([groups[name].standard_error for name in compared], float) ** -2
    mean = np.average(rates, weights=weights)
    chi_squared = float(np.sum(weights * (rates - mean) ** 2))
    degrees = len(compared) - 1
    return Comparison(
        chi_squared=chi_squared,
        degrees=degrees,
        p_value=float(chdtrc(degrees, chi_squared)),
        groups=dict(groups),
        compared=tuple(compared),
        n=n,
        about=ABOUT,
        warnings=tuple(warnings),
    )
