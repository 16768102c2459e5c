"""Plausibility at entry: what to ask about a visit before it goes into the record.

One pure function for the form, the API and import. It works on plain rows, so that the
phone's copy of it can be held against the same table of cases
(`tests/nesting/data/questions.json`). A question never refuses a visit: what is questioned
can be true. The answer is stored with the visit, in its column `confirmed`, and what is
confirmed is not questioned again.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from datetime import date, timedelta

from layers.nesting.guide import Guide
from layers.nesting.questions.figures import figures_of_all
from layers.nesting.questions.look import Look, Row
from layers.nesting.questions.rules import RULES, Question
from layers.trail.words import CONFIRMED

__all__ = ["KINDS", "Question", "figures_of_all", "questions", "questions_of_box"]

KINDS = CONFIRMED
"""Every kind of question. A kind is lasting: it is what `confirmed` stores."""


# Visits further apart than a nest can last have nothing to do with each other.
_WITHIN = timedelta(days=200)


def questions(box: Row, visit: Row, history: Sequence[Row], guide: Guide) -> list[Question]:
    """What to ask about a visit; empty where it is plausible, or was confirmed.

    Parameters
    ----------
    box
        The box: its `hole_mm`, `hole_shape`, `installed_on` and `removed_on` are used.
    visit
        The columns of the visit as stored; one left out was not recorded.
    history
        The other visits of the box, in any order, earlier and later ones; without those that
        were corrected, and without the one that this visit corrects.

    Examples
    --------
    >>> from layers.nesting.guide import standard_guide
    >>> visit = {"seen_on": "2026-06-03", "species": "eastern bluebird", "eggs": 40}
    >>> [one.kind for one in questions({}, visit, [], standard_guide())]
    ['many eggs']
    """
    day = visit["seen_on"]
    rows = sorted(history, key=lambda one: str(one["seen_on"]))
    return _asked(
        Look(
            box,
            visit,
            guide,
            earlier=[one for one in rows if one["seen_on"] < day],
            same_day=[one for one in rows if one["seen_on"] == day],
            later=[one for one in rows if one["seen_on"] > day],
        )
    )


def _asked(look: Look) -> list[Question]:
    visit = look.visit
    confirmed = str(visit.get("confirmed") or "").split(";")
    found: dict[str, Question] = {}
    for rule in RULES:
        for one in rule(look):
            if one.kind not in confirmed:
                found.setdefault(one.kind, one)
    return list(found.values())


def questions_of_box(
    box: Row, visits: Sequence[Row], guide: Guide
) -> Iterator[tuple[Row, Question]]:
    """What to ask about each visit of a box, given all of them; by day."""
    rows = sorted(visits, key=lambda row: str(row["seen_on"]))
    days = [date.fromisoformat(row["seen_on"]) for row in rows]
    for i, row in enumerate(rows):
        first, last = bisect_left(days, days[i] - _WITHIN), bisect_right(days, days[i] + _WITHIN)
        begin, end = bisect_left(days, days[i]), bisect_right(days, days[i])
        look = Look(
            box,
            row,
            guide,
            earlier=rows[first:begin],
            same_day=[*rows[begin:i], *rows[i + 1 : end]],
            later=rows[end:last],
        )
        for question in _asked(look):
            yield row, question
