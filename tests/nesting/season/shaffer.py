"""Logistic exposure by statsmodels, with a link written by hand."""

from __future__ import annotations

from typing import Any

import numpy as np
import statsmodels.api as sm
from numpy.typing import NDArray


class ShafferLink(sm.families.links.Link):  # type: ignore[misc]
    """ln(q**(1/t) / (1 - q**(1/t))), Shaffer 2004, Auk 121:526-540, for statsmodels."""

    def __init__(self, days: NDArray[np.float64]) -> None:
        self.days = days

    def __call__(self, p: Any) -> Any:
        daily = np.clip(p, 1e-14, 1 - 1e-14) ** (1 / self.days)
        return np.log(daily / (1 - daily))

    def inverse(self, z: Any) -> Any:
        return (1 + np.exp(-z)) ** -self.days

    def deriv(self, p: Any) -> Any:
        return 1 / self.inverse_deriv(self(p))

    def inverse_deriv(self, z: Any) -> Any:
        daily = 1 / (1 + np.exp(-z))
        return self.days * daily**self.days * (1 - daily)


class ShafferBinomial(sm.families.Binomial):  # type: ignore[misc]
    """The binomial family, with that link among those it knows."""

    links = safe_links = (ShafferLink,)


def shaffer_fit(
    lost: NDArray[np.bool_], days: NDArray[np.float64], columns: NDArray[np.float64]
) -> Any:
    """Statsmodels' own fit of intervals of these days to columns of covariates."""
    family = ShafferBinomial(link=ShafferLink(days))
    return sm.GLM(1.0 - lost, columns, family=family).fit(tol=1e-14, maxiter=200)
