"""Apparent success: the share of nests that fledged among those whose end is known."""

from __future__ import annotations

import math

import numpy as np

from layers.nesting import attempt_columns as c
from layers.nesting.season.doubts import Doubt, KeeperLosses, SmallSample, UncertainFates
from layers.nesting.season.proportions import exact_binomial
from layers.nesting.season.result import LEVEL, About, Measure, no_answer
from layers.nesting.season.tables import SeasonTable
from layers.nesting.season.which import Reason, for_success

# Hensler & Nichols 1981, Wilson Bulletin 93:42-53, as quoted in a field protocol: estimates
# from fewer than 20 nests may be unreliable.
ENOUGH_NESTS = 20

ABOUT = About(
    method="apparent success: fledged / (fledged + failed), exact binomial interval",
    assumptions=(
        "Every nest was found, also those lost early; box trails come close to that.",
        "Nests whose end nobody saw fare like the others.",
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


def apparent_success(table: SeasonTable, *, level: float = LEVEL) -> Measure:
    """The share of nests with a known end that fledged at least one young."""
    which = for_success(table)
    fledged = int(np.sum(which.counted & (table.fate == c.FATE_FLEDGED)))
    n = int(which.counted.sum())
    left_out = which.left_out()
    if n == 0:
        return no_answer(
            "apparent nest success",
            unit="share",
            counted="nests with a known end",
            about=ABOUT,
            wanted="nest with a known end",
            left_out=left_out,
        )
    share = fledged / n
    warnings: list[Doubt] = []
    if n < ENOUGH_NESTS:
        warnings.append(SmallSample(n, ENOUGH_NESTS, "nests with a known end"))
    unknown = left_out.get(Reason.FATE_NOT_KNOWN.value, 0)
    if unknown:
        warnings.append(UncertainFates(unknown, n + unknown))
    taken_out = left_out.get(Reason.TAKEN_OUT.value, 0)
    if taken_out:
        warnings.append(KeeperLosses(taken_out))
    return Measure(
        name="apparent nest success",
        unit="share",
        estimate=share,
        interval=exact_binomial(fledged, n, level=level),
        standard_error=math.sqrt(share * (1 - share) / n) if 0 < fledged < n else None,
        n=n,
        counted="nests with a known end",
        about=ABOUT,
        warnings=tuple(warnings),
        left_out=left_out,
        parts={"fledged": fledged, "failed": n - fledged},
    )
