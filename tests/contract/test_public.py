"""Commands, addresses and keys stay as they are listed."""

from __future__ import annotations

import json

import pytest

from tests.contract.public import FILE, public_contract

WRITTEN = json.loads(FILE.read_text(encoding="utf-8"))
NOW = public_contract()


@pytest.mark.parametrize("part", NOW)
def test_the_public_contract_is_as_listed(part: str) -> None:
    """After a change that is meant: `python -m tests.contract.public`, and the CHANGELOG."""
    assert NOW[part] == WRITTEN[part]
