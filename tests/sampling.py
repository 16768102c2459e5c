"""Cases of which `make test` takes some and `make long` the others."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import pytest


def one_in(step: int, cases: Sequence[Any]) -> list[Any]:
    """Parameters with the texts of the cases as ids; all but one in `step` are long."""
    return [
        pytest.param(case, id=str(case), marks=() if number % step == 1 else pytest.mark.long)
        for number, case in enumerate(cases)
    ]
