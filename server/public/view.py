"""One public file of a view, for the features that show it without publishing it."""

from __future__ import annotations

from layers.errors import NotKnown
from layers.publishing import PublicView
from server.public.site import media_type, site


def public_file(view: PublicView, name: str) -> tuple[bytes, str]:
    """A file's bytes and its media type; `NotKnown` if the pages have none of that name."""
    files = site(view)
    if name not in files:
        raise NotKnown(f"Expected the name of a public file, got {name!r}")
    return files[name](), media_type(name)
