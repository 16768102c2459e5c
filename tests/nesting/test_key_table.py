"""The key as a table: the file that the field page's key is held against is what Python answers."""

from __future__ import annotations

import json

from tests.nesting.key_cases import GUIDE, PATH, REGION, cases, text


def test_the_table_of_the_pages_key_is_what_python_answers() -> None:
    assert PATH.read_text(encoding="utf-8") == text(), "python -m tests.nesting.key_cases"


def test_the_cases_hold_every_kind_of_answer() -> None:
    found = cases()["cases"]
    assert len(found) >= 30
    assert any(one["species"] for one in found)
    assert any(one["either"] for one in found)
    assert {one["said"] for one in found} >= {
        "Not sure: nothing was seen that distinguishes species.",
        "Not sure: none passes such a hole.",
    }


def test_the_table_holds_the_species_of_the_region_and_their_nests_here() -> None:
    key = json.loads(text())["key"]
    assert {one["name"] for one in key["species"]} == {
        one.common for one in GUIDE.species if REGION in one.regions
    }
    assert {one["name"]: one["nests"] for one in key["species"] if one["nests"]} == {
        "eastern bluebird": 3
    }
