"""Serving the pages, and whether the server is well."""

from __future__ import annotations

from server.web.feature import Feature

FEATURE = Feature(
    "serving",
    routers=("api",),
    commands={
        "serve": "serve the trail's pages on this machine",
        "demo": "build the invented demo trail, if it is not there, and serve it",
        "prepare": "compile ahead what pages need, once on this machine",
    },
)
