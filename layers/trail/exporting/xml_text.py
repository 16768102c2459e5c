"""Text and elements for XML files."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any
from xml.etree.ElementTree import Element, SubElement

# Signs that no XML 1.0 document can hold, escaped or not (XML 1.0, production 2).
_NO_XML = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def plain(value: Any) -> str:
    """A value as text that XML can hold; a sign that it cannot becomes a question mark."""
    return _NO_XML.sub("?", str(value))


def child(
    parent: Element, tag: str, text: Any = None, attributes: Mapping[str, str] | None = None
) -> Element:
    """A new last child of an element."""
    made = SubElement(
        parent, tag, {name: plain(value) for name, value in (attributes or {}).items()}
    )
    if text is not None:
        made.text = plain(text)
    return made
