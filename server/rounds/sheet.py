"""The print sheet of a round: a page of the server, or one file that stands alone."""

from __future__ import annotations

from markupsafe import Markup

from server.live.contents import Contents
from server.rounds.planning import Planned
from server.rounds.sheet_map import map_svg
from server.rounds.view import walk_views
from server.web.templating import rendered, static_file

STYLE = static_file("rounds", "round_sheet.css")
FIELDS = ("Species", "Nest", "Eggs", "Warm", "Young", "Days old", "Dead", "Note")
"""What is written for each box that is opened, a column each."""

BESIDE_MAP = 9
"""Up to so many boxes stand on the page of the map; more have pages of their own."""

HAZARD = "Hazard near the way: "


def sheet_page(contents: Contents, planned: Planned, *, back: str, large: bool = False) -> str:
    """The sheet as a page of the server; `back` is the query of the round's page."""
    return _sheet(contents, planned, style="", back=back, large=large)


def sheet_file(contents: Contents, planned: Planned, *, large: bool = False) -> str:
    """The sheet as one HTML file that opens and prints without a server."""
    return _sheet(contents, planned, style=STYLE.read_text(encoding="utf-8"), back="", large=large)


def _sheet(contents: Contents, planned: Planned, *, style: str, back: str, large: bool) -> str:
    walks = walk_views(contents, planned)
    drawn = (walk for walk in planned.round.walks if walk.stops)
    warnings = planned.round.warnings
    return rendered(
        "round_sheet.html",
        trail=contents.settings,
        planned=planned,
        walks=[
            (
                view,
                map_svg(
                    planned, contents.ground, walk, whole_page=large or view.boxes > BESIDE_MAP
                ),
            )
            for view, walk in zip(walks, drawn, strict=True)
        ],
        hazards=[
            text.removeprefix(HAZARD).rstrip(".") for text in warnings if text.startswith(HAZARD)
        ],
        warnings=[text for text in warnings if not text.startswith(HAZARD)],
        proof=planned.proof_text,
        style=Markup(style),
        back=back,
        large=large,
        fields=FIELDS,
    )
