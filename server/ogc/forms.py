"""In which form an answer goes out: JSON or HTML, by `f` or by the `Accept` header.

Answers carry no `ETag`: their form follows the header `Accept`.
"""

from __future__ import annotations

import re
from typing import Literal

from layers.errors import BadValue

Form = Literal["json", "html"]

FORMS: tuple[Form, ...] = ("json", "html")

HTML = "text/html"
JSON = "application/json"
GEOJSON = "application/geo+json"
OPENAPI = "application/vnd.oai.openapi+json;version=3.0"
SCHEMA = "application/schema+json"

_JSON_NAMES = {
    JSON,
    GEOJSON,
    SCHEMA,
    "application/vnd.oai.openapi+json",
    "application/openapi+json",
    "application/*",
    "*/*",
}
_HTML_NAMES = {HTML, "application/xhtml+xml", "text/*"}
_WEIGHT = re.compile(r"q\s*=\s*(0(\.\d{0,3})?|1(\.0{0,3})?)", re.ASCII)


def form_of(query: str | None, accept: str) -> Form | None:
    """The form to answer in; None where none is accepted that we have.

    Parameters
    ----------
    query
        The parameter `f`; it rules where it is given.
    accept
        The `Accept` header (RFC 9110, 12.5.1), empty = anything.

    Raises
    ------
    BadValue
        `f` names no form of ours.
    """
    if query is not None:
        for form in FORMS:
            if query == form:
                return form
        raise BadValue(f"one of {', '.join(FORMS)}", repr(query), column="f")
    if not accept.strip():
        return "json"
    best: dict[Form, float] = {}
    for part in accept.lower().split(","):
        name, *details = (piece.strip() for piece in part.split(";"))
        weights = [float(found[1]) for piece in details if (found := _WEIGHT.fullmatch(piece))]
        weight = weights[0] if weights else 1.0
        if name in _JSON_NAMES:
            best["json"] = max(weight, best.get("json", 0.0))
        if name in _HTML_NAMES:
            best["html"] = max(weight, best.get("html", 0.0))
    wanted = [form for form in FORMS if best.get(form, 0.0) > 0]
    # Of equal weights the first of FORMS is meant: programs seldom say what they want.
    return max(wanted, key=lambda form: best.get(form, 0.0), default=None)
