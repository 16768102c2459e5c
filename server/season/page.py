"""The season's page: text first, then plots and tables, to read and to print."""

from __future__ import annotations

from datetime import date
from typing import Annotated
from urllib.parse import urlencode

from fastapi import APIRouter, Query, Request, Response

from layers.errors import NotKnown
from layers.nesting.season.report import as_csv, sheets
from layers.nesting.season.report import format_cell as cell_shown
from server.live.contents import Contents
from server.live.trail import LiveTrail
from server.season.api import AboutSeason
from server.season.view import MOST_ROWS, Asked, choices, plot_of, report_of, season_asked, shown
from server.web.responses import Live, day_asked, kept, kept_page

router = APIRouter(include_in_schema=False)

Question = Annotated[AboutSeason, Query()]

PLOT_POLICY = "default-src 'none'; style-src 'unsafe-inline'"
"""A plot opened by itself brings its own styles and can run nothing."""


def _asked(live: LiveTrail, given: AboutSeason) -> tuple[Contents, Asked, date]:
    contents, today = live.contents(), day_asked(live, given.on)
    asked = season_asked(contents, year=given.year, species=given.species, by=given.by, today=today)
    return contents, asked, today


@router.get("/season")
def season_page(request: Request, live: Live, given: Question) -> Response:
    """How the boxes did in a season."""
    contents, asked, today = _asked(live, given)
    report = report_of(contents, asked, today=today)
    query = urlencode(
        {"year": asked.season, "species": asked.species or "", "by": asked.by}
        | ({"on": given.on.isoformat()} if given.on else {})
    )
    laid_out = shown(
        contents,
        report,
        plot_at=lambda plot: f"/season/plots/{plot.name}.svg?{query}",
        sheet_at=lambda sheet: f"/season/tables/{sheet.name}.csv?{query}",
    )
    values = {
        "shown": laid_out,
        "said": cell_shown,
        "most_rows": MOST_ROWS,
        "asked": asked,
        "on": given.on,
        "query": query,
        **choices(contents, asked),
    }
    return kept_page(request, contents, "season.html", values)


@router.get("/season/plots/{name}.svg")
def season_plot(request: Request, live: Live, name: str, given: Question) -> Response:
    """One plot."""
    contents, asked, today = _asked(live, given)
    svg = plot_of(contents, asked, name, today=today)
    answer = kept(request, contents, svg.encode(), media_type="image/svg+xml")
    answer.headers["Content-Security-Policy"] = PLOT_POLICY
    return answer


@router.get("/season/tables/{name}.csv")
def season_sheet(request: Request, live: Live, name: str, given: Question) -> Response:
    """One table as a file for a spreadsheet."""
    contents, asked, today = _asked(live, given)
    own = {sheet.name: sheet for sheet in sheets(report_of(contents, asked, today=today))}
    if name not in own:
        raise NotKnown(f"Expected a table ({', '.join(own) or 'there is none'}), got {name!r}")
    body = as_csv(own[name]).encode()
    return kept(request, contents, body, media_type="text/csv; charset=utf-8")
