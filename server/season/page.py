"""The season's page: text first, then plots and tables, to read and to print."""

from __future__ import annotations

from datetime import date
from typing import Annotated
from urllib.parse import urlencode

from fastapi import APIRouter, Query, Request, Response

from layers.errors import NotKnown
from layers.nesting.season.report import FEW_NOTE, as_csv, sheets
from server.live.contents import Contents
from server.live.trail import LiveTrail
from server.season.api import AboutSeason
from server.season.view import (
    MOST_ROWS,
    ReportQuery,
    choices,
    plot_of,
    report_of,
    requested_season,
    shown,
)
from server.web.base import at
from server.web.responses import Live, cached, cached_page, requested_day

router = APIRouter(include_in_schema=False)

Question = Annotated[AboutSeason, Query()]


class PlotQuery(AboutSeason):
    narrow: bool = False


AboutPlot = Annotated[PlotQuery, Query()]

PLOT_POLICY = "default-src 'none'; style-src 'unsafe-inline'"
"""A plot opened by itself brings its own styles and can run nothing."""


def _requested(live: LiveTrail, given: AboutSeason) -> tuple[Contents, ReportQuery, date]:
    contents, today = live.contents(), requested_day(live, given.on)
    query = requested_season(
        contents, year=given.year, species=given.species, by=given.by, today=today
    )
    return contents, query, today


@router.get("/season")
def season_page(request: Request, live: Live, given: Question) -> Response:
    """How the boxes did in a season."""
    contents, inputs, today = _requested(live, given)
    report = report_of(contents, inputs, today=today)
    query = urlencode(
        {"year": inputs.season, "species": inputs.species or "", "by": inputs.by}
        | ({"on": given.on.isoformat()} if given.on else {})
    )
    laid_out = shown(
        contents,
        report,
        plot_at=lambda plot, narrow: at(
            f"/season/plots/{plot.name}.svg?{query}{'&narrow=true' if narrow else ''}"
        ),
        sheet_at=lambda sheet: at(f"/season/tables/{sheet.name}.csv?{query}"),
    )
    values = {
        "shown": laid_out,
        "few_note": FEW_NOTE,
        "most_rows": MOST_ROWS,
        "chosen": inputs,
        "on": given.on,
        "query": query,
        **choices(contents, inputs),
    }
    return cached_page(request, contents, "season.html", values)


@router.get("/season/plots/{name}.svg")
def season_plot(request: Request, live: Live, name: str, given: AboutPlot) -> Response:
    """One plot."""
    contents, query, today = _requested(live, given)
    svg = plot_of(contents, query, name, today=today, narrow=given.narrow)
    answer = cached(request, contents, svg.encode(), media_type="image/svg+xml")
    answer.headers["Content-Security-Policy"] = PLOT_POLICY
    return answer


@router.get("/season/tables/{name}.csv")
def season_sheet(request: Request, live: Live, name: str, given: Question) -> Response:
    """One table as a file for a spreadsheet."""
    contents, query, today = _requested(live, given)
    own = {sheet.name: sheet for sheet in sheets(report_of(contents, query, today=today))}
    if name not in own:
        raise NotKnown(f"Expected a table ({', '.join(own) or 'there is none'}), got {name!r}")
    body = as_csv(own[name]).encode()
    return cached(request, contents, body, media_type="text/csv; charset=utf-8")
