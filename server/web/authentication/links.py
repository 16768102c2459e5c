"""A secret as an address that can be opened, and as a picture that a phone can read.

The secret is behind `#` in the address, so no log or `Referer` holds it.
"""

from __future__ import annotations

import io
from urllib.parse import urlencode

import segno
from markupsafe import Markup


def sign_in_link(token: str, *, origin: str) -> str:
    """The link that signs a device in; the part behind `#` stays on the device."""
    return f"{origin.rstrip('/')}/sign-in#{token}"


def calendar_link(token: str, *, origin: str) -> str:
    """The address of a calendar that can be subscribed to."""
    return f"{origin.rstrip('/')}/due.ics?{urlencode({'token': token})}"


def qr_text(link: str) -> str:
    """A QR code for a terminal, two modules a letter."""
    drawn = io.StringIO()
    segno.make(link, error="m", micro=False).terminal(drawn, compact=True)
    return drawn.getvalue()


def qr_picture(link: str) -> Markup:
    """A QR code as SVG within a page; the text beside it describes it."""
    picture: str = segno.make(link, error="m", micro=False).svg_inline(
        scale=4, omitsize=True, svgclass=None, lineclass=None, title="QR code of the link"
    )
    return Markup(picture)
