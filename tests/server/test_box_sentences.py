"""Every sentence that could send a hand into a box is known, and told apart from the others."""

from __future__ import annotations

import datetime as dt

import pytest

from tests.server.box_sentences import HAND, NOT_OF_BOXES, SENTENCES, offence, product_sentences

ON = dt.date(2026, 6, 3)


def test_no_sentence_of_the_product_is_left_unsorted() -> None:
    left = [
        (file, text)
        for file, text in product_sentences()
        if HAND.search(text) and text not in SENTENCES and not NOT_OF_BOXES.search(text)
    ]
    assert left == []


def test_no_sorted_sentence_is_one_that_the_product_no_longer_has() -> None:
    assert set(SENTENCES) - {text for _, text in product_sentences()} == set()


@pytest.mark.parametrize(
    "told",
    [
        "The clutch should be complete since 1 to 3 May and can be counted until hatching, 9 June.",
        "Watch from a distance. Be quick, and look inside.",
        "From 3 June on the young should have left: the box can be checked, and cleaned once it "
        "is seen to be empty. Check your local law first: a nest in use is protected in most "
        "places.",
        "Check and clean",
        "Open the box and see.",
        "Do not open 1 to 9 June: young may leave too early. Count them first.",
    ],
)
def test_a_line_that_sends_a_hand_into_a_closed_box_is_found(told: str) -> None:
    assert offence(told, on=ON)


@pytest.mark.parametrize(
    "told",
    [
        "Do not open 25 May to 9 June: young may leave too early.",
        "From 10 June on the young should have left: the box can be checked, and cleaned once it "
        "is seen to be empty. Check your local law first: a nest in use is protected in most "
        "places. (From memory.)",
        "First egg on 27 April: five eggs counted on 18 May, their age judged two times.",
        "Watch from a distance; do not open.",
        "Record a visit",
    ],
)
def test_a_line_that_keeps_the_box_closed_is_not(told: str) -> None:
    assert offence(told, on=ON) == ""
