"""Which boxes need a visit on a day, why, until when, and how to approach it."""

from layers.nesting.due.approach import APPROACHES, LEAVE, OPEN, WATCH
from layers.nesting.due.listing import (
    Due,
    due,
    due_by_interval,
    due_of_box,
    most_urgent_first,
)
from layers.nesting.due.reasons import CAN_WAIT, DUE, NOT_DUE, URGENCIES, URGENT, Reason

__all__ = [
    "APPROACHES",
    "CAN_WAIT",
    "DUE",
    "LEAVE",
    "NOT_DUE",
    "OPEN",
    "URGENCIES",
    "URGENT",
    "WATCH",
    "Due",
    "Reason",
    "due",
    "due_by_interval",
    "due_of_box",
    "most_urgent_first",
]
