"""The trail file itself: new, check, backup, settings."""

from __future__ import annotations

from server.web.feature import Feature

FEATURE = Feature(
    "trail_file",
    commands={
        "new": "make an empty trail file",
        "check": "look for damage, orphans and visits that cannot be",
        "backup": "write a copy of the trail as it is now",
        "restore": "put a backup in the place of the trail, which is set aside",
        "rescue": "write what can be read of a damaged trail as a new one, and list what is lost",
        "doctor": "look at the file, its place, its backups and who has access",
        "settings": "show or change what holds for the whole trail",
    },
)
