"""Who may use the trail: invitations, devices, signing in."""

from __future__ import annotations

from server.web.feature import Feature, Link

FEATURE = Feature(
    "people",
    routers=("sign_in", "page"),
    commands={
        "invite": "give a person access: a link and a QR code that sign in one device",
        "people": "list who may use the trail, since when and until when",
        "revoke": "end a person's access on all their devices",
    },
    links=(Link("People", "/people", prominent=True, roomy=True),),
)
