"""The id of a visit that came without one: made from its content."""

from __future__ import annotations

import json
import uuid
from collections.abc import Mapping
from typing import Any

from layers.trail.schema import VISITS
from layers.trail.words import NEST_OF_FORMAT_1

_NAMESPACE = uuid.UUID("6f0b5a7e-92c1-5d58-9a34-0e6a1d2c7b49")
"""A random number of our own, so that ids of visits meet no others (RFC 9562, 5.5)."""

_OF_FORMAT_1 = (
    *("box", "seen_on", "seen_at", "observer", "species", "nest", "eggs", "eggs_warm", "young"),
    *("young_days", "dead_young", "adult", "signs", "actions", "opened", "note", "replaces"),
)
"""Ids never change, so the columns of format 1 are read in its order and its words; any
column declared since is read by its name, where it is filled in."""

_AT_NEST, _AT_REPLACES = map(_OF_FORMAT_1.index, ("nest", "replaces"))

_NOT_CONTENT = frozenset({"visit_id", "entered_at", "own_columns", "import_id"})

_SINCE = tuple(name for name in VISITS.columns if name not in {*_OF_FORMAT_1, *_NOT_CONTENT})

_encode = json.JSONEncoder(ensure_ascii=False).encode

_NEST = {new: old for old, new in NEST_OF_FORMAT_1.items()}


def content_id(visit: Mapping[str, Any], *, as_correction: bool = True) -> str:
    """The uuid of the content of a stored or clean visit.

    Two visits of the same content have the same one; neither their ids, nor when they were
    entered, nor a keeper's own columns count. Without `as_correction` it does not count either
    which visit one corrects.
    """
    content: list[Any] = [visit.get(name) for name in _OF_FORMAT_1]
    nest = content[_AT_NEST]
    content[_AT_NEST] = _NEST.get(str(nest), nest)
    if not as_correction:
        content[_AT_REPLACES] = None
    while content and content[-1] is None:
        content.pop()
    later = {name: visit[name] for name in _SINCE if visit.get(name) is not None}
    content += [later] if later else []
    return str(uuid.uuid5(_NAMESPACE, _encode(content)))
