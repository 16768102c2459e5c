"""Identifiers of a trail, its boxes and its nests that hold among all trails, and last.

A nest is called after the visit that found it, as first entered: to hide a box, or to add or
correct a visit, changes the identifier of no other nest. What the team gives out is named from
the trail's id; what the public gets is named from its secret one, so that a reader who guesses
a box and a visit cannot test the guess, nor match public nests with those of a full export. A
public identifier shows neither box, day nor order, so none that is missing leaves a gap.
"""

from __future__ import annotations

import uuid
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from layers.nesting import attempt_columns as c
from layers.nesting.histories import Histories
from layers.trail.identity import Identity

Positions = NDArray[np.int64] | None


@dataclass(frozen=True)
class Identifiers:
    """Names what is given out of one trail; each identifier is a uuid (RFC 9562, 5.5).

    Attributes
    ----------
    first_entries
        Gives, by row number, the id under which a visit was first entered;
        `Trail.first_entries` does.
    """

    identity: Identity
    first_entries: Callable[[Sequence[int]], Mapping[int, str]]

    @property
    def trail(self) -> str:
        return str(self.identity.trail_id)

    @property
    def public_trail(self) -> str:
        return str(uuid.uuid5(self.identity.secret_id, "trail"))

    def box(self, box: str) -> str:
        """Of a box, by the id painted on it."""
        return str(uuid.uuid5(self.identity.trail_id, f"box {box}"))

    def public_box(self, box: str) -> str:
        """Of a box, for whom its place and its painted id are kept from."""
        return str(uuid.uuid5(self.identity.secret_id, f"box {box}"))

    def nests(self, histories: Histories, *, among: Positions = None) -> list[str]:
        """Of each attempt, or some by their positions, for the team and whom it trusts."""
        return self._nests(self.identity.trail_id, histories, among)

    def public_nests(self, histories: Histories) -> list[str]:
        """Of each attempt, for everybody."""
        return self._nests(self.identity.secret_id, histories, None)

    def _nests(self, namespace: uuid.UUID, histories: Histories, among: Positions) -> list[str]:
        first = histories.rows[:, c.FIRST] if among is None else histories.rows[among, c.FIRST]
        rows: list[int] = histories.visits.row[first].tolist()
        entries = self.first_entries(rows)
        return [str(uuid.uuid5(namespace, f"nest {entries[row]}")) for row in rows]
