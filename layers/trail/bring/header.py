"""Which column of a file is which of ours."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from layers.errors import Fault, Refused
from layers.trail.words import nearest_words


@dataclass(frozen=True)
class Columns:
    """Our columns found in a file.

    Attributes
    ----------
    at
        Our column name to its position in the header.
    chosen
        Our column name to the name in the file.
    others
        Position and name of the columns that stand for none of ours.
    """

    at: Mapping[str, int]
    chosen: Mapping[str, str]
    others: tuple[tuple[int, str], ...]


def choose_columns(
    header: Sequence[str],
    *,
    names: Mapping[str, tuple[str, ...]],
    asked: Mapping[str, str],
    file: str,
) -> Columns:
    """Match a header with our columns.

    Parameters
    ----------
    names
        Our column names, each with other plain names for it, the likelier first. Case,
        spaces and punctuation of a header do not matter.
    asked
        Our column name to the file's, as a person told; goes before all matching.

    Raises
    ------
    Refused
        A column asked for is not ours or not in the file, or two columns bear the name
        of one of ours.
    """
    faults = []
    at: dict[str, int] = {}
    for ours, theirs in asked.items():
        position = _position(header, theirs)
        if ours not in names:
            hint = nearest_words(ours, names) or list(names)
            faults.append(
                Fault(f"a column of ours such as {', '.join(hint)}", repr(ours), file=file)
            )
        elif position is None:
            hint = nearest_words(theirs, header) or list(header)
            faults.append(
                Fault(f"a column of the file such as {', '.join(hint)}", repr(theirs), file=file)
            )
        else:
            at[ours] = position
    folded: dict[str, list[int]] = {}
    for i, name in enumerate(header):
        if i not in at.values():
            folded.setdefault(_fold(name), []).append(i)
    for ours, others in names.items():
        for name in () if ours in at else map(_fold, (ours, *others)):
            positions = folded.get(name, [])
            if len(positions) > 1:
                faults.append(
                    Fault(
                        "one column of that name",
                        ", ".join(repr(header[i]) for i in positions),
                        file=file,
                        column=ours,
                    )
                )
            if positions:
                at[ours] = positions[0]
                break
    if faults:
        raise Refused(f"{file} was refused; nothing was added", tuple(faults))
    taken = set(at.values())
    return Columns(
        at=at,
        chosen={ours: header[i] for ours, i in at.items()},
        others=tuple((i, name) for i, name in enumerate(header) if i not in taken),
    )


def _position(header: Sequence[str], name: str) -> int | None:
    """Where a column is: of exactly that name, else of a name that reads the same."""
    if name in header:
        return header.index(name)
    alike = [i for i, theirs in enumerate(header) if _fold(theirs) == _fold(name)]
    return alike[0] if len(alike) == 1 else None


def _fold(name: str) -> str:
    plain = unicodedata.normalize("NFKC", name).casefold()
    return " ".join(re.sub(r"[\W_]+", " ", plain).split())
