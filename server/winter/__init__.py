"""What boxes need before the next season."""

from __future__ import annotations

from server.web.feature import Feature, Link

FEATURE = Feature(
    "winter",
    routers=("api", "page"),
    commands={"winter": "list what boxes need before the next season, and why some stay unused"},
    links=(Link("Winter", "/winter", prominent=True, roomy=True),),
)
