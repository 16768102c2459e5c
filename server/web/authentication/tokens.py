"""Secrets that let people in: made from the system's randomness, stored only as a hash.

A secret has 256 bits, so none is found by trying, and its hash needs no salt and
no slow function to withstand a guess.
"""

from __future__ import annotations

import base64
import hashlib
import secrets

TOKEN_BYTES = 32
"""256 bits; OWASP asks at least 64 of a session's name (Session Management Cheat Sheet,
from memory)."""


def new_token() -> str:
    """A secret of 43 letters, digits, `-` and `_`."""
    return secrets.token_urlsafe(TOKEN_BYTES)


def digest(token: str) -> bytes:
    """What the side file stores of a secret."""
    return hashlib.sha256(token.encode()).digest()


def device_token(link: str, device: str) -> str:
    """The secret of the device that opened a link.

    Made from the link's secret and one that the sign-in page made up, so that a form
    sent twice over a bad connection signs in once, and neither secret alone does.
    """
    mixed = hashlib.sha256(f"boxround device\n{link}\n{device}".encode()).digest()
    return base64.urlsafe_b64encode(mixed).rstrip(b"=").decode()
