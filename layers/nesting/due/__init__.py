"""Which boxes need a visit on a day, why, until when, and how to look."""

from layers.nesting.due.asked import STANDARD_RULES, Rules
from layers.nesting.due.listing import Due, due, due_of_box, most_urgent_first
from layers.nesting.due.looking import DO_NOT_VISIT, FROM_AFAR, LOOKS, OPEN
from layers.nesting.due.why import CAN_WAIT, DUE, NOT_DUE, PRESSING, URGENCIES, Reason

__all__ = [
    "CAN_WAIT",
    "DO_NOT_VISIT",
    "DUE",
    "FROM_AFAR",
    "LOOKS",
    "NOT_DUE",
    "OPEN",
    "PRESSING",
    "STANDARD_RULES",
    "URGENCIES",
    "Due",
    "Reason",
    "Rules",
    "due",
    "due_of_box",
    "most_urgent_first",
]
