"""All public files by name: the same on the server and in a folder for any web host."""

from __future__ import annotations

import importlib
import re
from collections.abc import Callable
from functools import partial
from importlib.resources import files

from layers.maps.bundle import bundle
from layers.publishing import PublicView
from layers.publishing.files import data_files
from layers.publishing.tables import PublicSource
from server.public.pages import PAGES, page

OWN = ("open.css", "icon.svg")

_PICTURE = re.compile(rb"url\((?!#)[^)]*\)")
"""Leaflet's marker pictures, which the map does not use."""

_KINDS = {
    "html": "text/html; charset=utf-8",
    "css": "text/css; charset=utf-8",
    "js": "text/javascript; charset=utf-8",
    "svg": "image/svg+xml",
    "png": "image/png",
    "csv": "text/csv; charset=utf-8",
    "txt": "text/plain; charset=utf-8",
    "geojson": "application/geo+json",
    "json": "application/json",
}


def _card(view: PublicView) -> bytes:
    # Matplotlib takes half a second to load, and the picture is seldom requested.
    made: bytes = importlib.import_module("server.public.card").card_png(view)
    return made


def media_type(name: str) -> str:
    """By the ending of a file's name."""
    return _KINDS[name.rpartition(".")[2]]


def site(view: PublicView, *, address: str | None = None) -> dict[str, Callable[[], bytes]]:
    """Name of each public file -> what makes it.

    Parameters
    ----------
    address
        Where they will be found, with a slash at its end; None = not known.
    """
    leaflet = files("layers.maps") / "assets" / "leaflet"
    own = files("server.public") / "static"
    return {
        **{name: partial(page, name, view, address=address) for name in PAGES},
        **data_files(PublicSource(view)),
        "card.png": partial(_card, view),
        "leaflet.js": (leaflet / "leaflet.js").read_bytes,
        "leaflet.css": lambda: _PICTURE.sub(b"none", (leaflet / "leaflet.css").read_bytes()),
        "leaflet-licence.txt": (leaflet / "LICENSE").read_bytes,
        "map.js": lambda: bundle("public.js").encode(),
        **{name: (own / name).read_bytes for name in OWN},
    }
