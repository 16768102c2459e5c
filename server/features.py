"""Every feature, in the order in which pages link to them: the one list to add to."""

from __future__ import annotations

from server import (
    boxes,
    due,
    exporting,
    field,
    guide,
    identify,
    importing,
    maps,
    nearest,
    ogc,
    people,
    preview,
    public,
    rounds,
    season,
    serving,
    setup,
    siting,
    trail_file,
    visits,
    week,
    winter,
)
from server.web.feature import Feature

FEATURES: tuple[Feature, ...] = (
    maps.FEATURE,
    boxes.FEATURE,
    due.FEATURE,
    rounds.FEATURE,
    week.FEATURE,
    field.FEATURE,
    visits.FEATURE,
    identify.FEATURE,
    nearest.FEATURE,
    season.FEATURE,
    winter.FEATURE,
    siting.FEATURE,
    people.FEATURE,
    guide.FEATURE,
    public.FEATURE,
    preview.FEATURE,
    ogc.FEATURE,
    exporting.FEATURE,
    importing.FEATURE,
    trail_file.FEATURE,
    serving.FEATURE,
    setup.FEATURE,
)
