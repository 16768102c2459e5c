"""The report as plain values, for JSON."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from datetime import date
from typing import Any

from layers.nesting.season.doubts import Doubt
from layers.nesting.season.report.facts import SeasonReport
from layers.nesting.season.report.sentences import passages
from layers.nesting.season.report.summary import SeasonSummary
from layers.nesting.season.result import About


def report_record(report: SeasonReport) -> dict[str, Any]:
    """Everything in a report: its sentences with their values, and every measure.

    `methods` describes once what a measure names as its method.
    """
    methods: dict[str, Any] = {}
    sentences = [
        {
            "passage": passage.name,
            "text": one.text,
            "values": {name: plain(value, methods) for name, value in one.values.items()},
        }
        for passage in passages(report)
        for one in passage.sentences
    ]
    return {**plain(report, methods), "sentences": sentences, "methods": methods}


def summary_record(summary: SeasonSummary) -> dict[str, Any]:
    """A season for the public, with its tables as rows of plain values."""
    record: dict[str, Any] = plain(summary, {})
    return record


def plain(value: Any, methods: dict[str, Any]) -> Any:
    """A value without types of ours; methods met on the way are gathered in `methods`.

    A field that its class leaves out of its `repr` is for further working, such as a
    covariance, and is left out here too.
    """
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, About):
        methods.setdefault(
            value.method,
            {
                "assumptions": list(value.assumptions),
                "not_when": list(value.not_when),
                "reference": value.reference,
            },
        )
        return value.method
    if isinstance(value, frozenset):
        return sorted(value)
    if isinstance(value, Mapping):
        return {str(name): plain(each, methods) for name, each in value.items()}
    if isinstance(value, list | tuple):
        return [plain(each, methods) for each in value]
    if is_dataclass(value) and not isinstance(value, type):
        record = {
            one.name: plain(getattr(value, one.name), methods) for one in fields(value) if one.repr
        }
        if isinstance(value, Doubt):
            return {"doubt": type(value).__name__, "text": str(value), **record}
        sentence = getattr(value, "sentence", None)
        return record if sentence is None else {**record, "sentence": sentence()}
    return value
