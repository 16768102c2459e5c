"""Apparent success: the share of nests that fledged among those whose end is known."""

from __future__ import annotations

import math

import numpy as np

from layers.nesting import attempt_columns as c
from layers.nesting.season.doubts import KeeperLosses, OnlyBounds, UncertainFates, few
from layers.nesting.season.result import About, Measure, Quantity, exact_binomial
from layers.nesting.season.samples import Exclusion, for_success
from layers.nesting.season.tables import SeasonTable

# Hensler & Nichols 1981, Wilson Bulletin 93:42-53, as quoted in a field protocol: estimates
# from fewer than 20 nests may be unreliable.
ENOUGH_NESTS = 20

ENOUGH_FOR_SHARE = 5
"""No percentage is given from fewer nests (common practice, no source)."""

MAX_UNKNOWN = 0.05
"""Up to this share of unknown outcomes the share of the known ones is off by as much at most (our
own choice); beyond it only bounds are given."""

ABOUT = About(
    method="apparent success: fledged / (fledged + failed), exact binomial interval",
    assumptions=(
        "Every nest was found, also those lost early; box trails come close to that.",
        "At most one nest in twenty has an unknown outcome; with more there are only bounds.",
        "Nests are independent of each other.",
    ),
    not_when=(
        "Many nests were found late: those lost before never counted, and the share is too high "
        "(Mayfield 1961, Wilson Bulletin 73:255-261). Use daily survival.",
    ),
    reference=(
        "Klett, Duebbert, Faanes & Higgins 1986, US Fish and Wildlife Service Resource "
        "Publication 158, eq. 1; Johnson & Shaffer 1990, Auk 107:595-600"
    ),
)

APPARENT = Quantity(
    "apparent nest success",
    "share",
    "nests with a known outcome",
    ABOUT,
    "nest with a known outcome",
)


def apparent_success(table: SeasonTable) -> Measure:
    """The share of nests with a known outcome that fledged at least one young.

    No estimate where more than `MAX_UNKNOWN` are unknown: `parts` then has the lowest and the
    highest share that can be.
    """
    sample = for_success(table)
    fledged = int(np.sum(sample.counted & (table.fate == c.FATE_FLEDGED)))
    n = int(sample.counted.sum())
    left_out = sample.left_out()
    if n == 0:
        return APPARENT.without_answer(left_out)
    share = fledged / n
    unknown = left_out.get(Exclusion.FATE_UNKNOWN.value, 0)
    parts: dict[str, float] = {"fledged": fledged, "failed": n - fledged, "unknown": unknown}
    if unknown > MAX_UNKNOWN * (n + unknown):
        low, high = fledged / (n + unknown), (fledged + unknown) / (n + unknown)
        bounds = OnlyBounds(unknown, n + unknown, low, high)
        parts |= {"lowest": low, "highest": high}
        return APPARENT.measured(None, n=n, warnings=(bounds,), left_out=left_out, parts=parts)
    warnings = few(n, ENOUGH_NESTS, APPARENT.counted)
    if unknown:
        warnings.append(UncertainFates(unknown, n + unknown))
    taken_out = left_out.get(Exclusion.TAKEN_OUT.value, 0)
    if taken_out:
        warnings.append(KeeperLosses(taken_out))
    return APPARENT.measured(
        share,
        interval=exact_binomial(fledged, n),
        standard_error=math.sqrt(share * (1 - share) / n) if 0 < fledged < n else None,
        n=n,
        warnings=warnings,
        left_out=left_out,
        parts=parts,
    )
