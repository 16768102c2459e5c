"""The questions about a file, on a terminal."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

from layers.errors import BadValue
from layers.trail.importing.proposing import Question
from layers.trail.importing.proposing.recipe import Understood, merged, places_text

Read = Callable[[str], str]
P = TypeVar("P", bound=Understood)


def ask_all(
    first: P,
    again: Callable[[dict[str, dict[str, str]]], P],
    *,
    read: Read = input,
    show: Callable[[str], None] = print,
) -> tuple[P, dict[str, dict[str, str]]]:
    """Ask one question after another, reading the file anew after each answer.

    Raises
    ------
    BadValue
        The person stopped; nothing was added.
    """
    answers: dict[str, dict[str, str]] = {}
    proposal, passed = first, set[str]()
    while waiting := [one for one in proposal.questions if one.key not in passed]:
        question = waiting[0]
        given = _ask(question, read, show)
        if given is None:
            passed.add(question.key)
            continue
        answers = merged(answers, {question.section: {question.item: given}})
        proposal = again(answers)
    return proposal, answers


def _ask(question: Question, read: Read, show: Callable[[str], None]) -> str | None:
    """One answer; None where it is left open."""
    show(f"\n{question.text} ({places_text(question.places)})")
    options = list(question.options.items())
    for number, (value, meaning) in enumerate(options, start=1):
        likely = "  <- likely" if value == question.proposal else ""
        show(f"  {number}  {meaning}{likely}")
    if question.grounds:
        show(f"  ({question.grounds})")
    more = ", or type what it is" if question.free else ""
    while True:
        try:
            given = read(f"1 to {len(options)}{more}, - to leave it open: ").strip()
        except EOFError:
            raise BadValue("answers, or --propose RECIPE.toml", "the end of the input") from None
        if given == "-":
            return None
        if given.isdecimal() and 1 <= int(given) <= len(options):
            return options[int(given) - 1][0]
        if given in question.options or (question.free and given):
            return given
