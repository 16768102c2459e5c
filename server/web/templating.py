"""Pages from templates; every value is escaped unless a template says otherwise."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined, pass_context
from jinja2.runtime import Context
from markupsafe import Markup

from layers.maps.bundle import SCRIPTS
from layers.maps.fragments import FILTERS, TEMPLATES
from layers.maps.page import ASSETS
from server.web.authentication.cookies import START
from server.web.base import FromBase, at, base

_SERVER = Path(__file__).parents[1]


def static_folders() -> dict[str, Path]:
    """Name below `/static` -> folder of scripts and styles: one a feature, and the maps'."""
    own = {folder.parent.name: folder for folder in sorted(_SERVER.glob("*/static"))}
    return own | {"map": ASSETS, "js": SCRIPTS}


def static_file(feature: str, name: str) -> Path:
    """A script or style of a feature."""
    return _SERVER / feature / "static" / name


# The public pages have templates of their own (`server/public/pages.py`), some of equal names.
_FOLDERS = sorted(set(_SERVER.glob("*/templates")) - {_SERVER / "public" / "templates"})

_TEMPLATES = Environment(
    loader=FileSystemLoader([*_FOLDERS, TEMPLATES]),
    autoescape=True,
    undefined=StrictUndefined,
    trim_blocks=True,
    lstrip_blocks=True,
    extensions=[FromBase],
)


@pass_context
def offers(context: Context, feature: str) -> bool:
    """Whether the app of a page has a feature; taken to have it where the context does not say."""
    features: frozenset[str] | None = context.get("features")
    return features is None or feature in features


@pass_context
def to(context: Context, feature: str, address: str) -> Markup:
    """The `href` of a link into a feature; nothing where the app has none, so that text stays."""
    return Markup('href="{}"').format(at(address)) if offers(context, feature) else Markup("")


_TEMPLATES.globals |= {
    "links": (),
    "offers": offers,
    "to": to,
    "app_base": base,
    "at": at,
    "all_trails": START,
}


_TEMPLATES.filters |= FILTERS


def rendered(template: str, **values: Any) -> str:
    """A page as HTML text."""
    return _TEMPLATES.get_template(template).render(**values)
