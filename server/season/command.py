"""The command that shows how the boxes did in a season, and writes the report."""

from __future__ import annotations

import argparse
import base64
import textwrap
from collections.abc import Mapping
from datetime import date
from pathlib import Path

from markupsafe import Markup

from layers.errors import BadValue, Conflict, StorageFull
from layers.maps.season import Plot
from layers.nesting.season.report import (
    FEW_NOTE,
    GROUPINGS,
    SeasonReport,
    SeasonSummary,
    Sheet,
    as_csv,
    passages,
    sheets,
    summary_record,
)
from layers.nesting.season.report.summary import LEAST_PUBLISHED
from layers.pooling.choices import BY as BY_OF_ARCHIVE
from layers.publishing.season import public_season
from layers.trail.settings import Settings
from server.live.contents import Contents
from server.season.archive import add_archive_arguments, season_over_archive
from server.season.view import (
    BY,
    MOST_ROWS,
    ReportQuery,
    plot_of,
    record_of,
    report_of,
    requested_season,
    shown,
)
from server.terminal import add_day, add_json, add_trail, opened_on, print_json, print_table
from server.web.templating import rendered, static_file

YEARS = "years"
"""Of the passages and tables of a report, those on all seasons."""

_ON_A_TERMINAL = ("species", "group-numbers", "years")
"""Tables narrow and short enough for a terminal; the report has the rest."""


def _arguments(command: argparse.ArgumentParser) -> None:
    add_trail(command)
    command.add_argument(
        "--year",
        type=_year,
        help="the season, named after the year it begins in; the last if left out",
    )
    command.add_argument("--species", default="", help="only nests of this species")
    command.add_argument(
        "--by",
        choices=tuple(dict.fromkeys((*GROUPINGS, *BY_OF_ARCHIVE))),
        help=f"what to group by; of an archive one of {', '.join(BY_OF_ARCHIVE)}",
    )
    command.add_argument(
        "--years",
        action="store_true",
        help="only how the seasons so far differ: each by itself, the trend over all, and how "
        "long eggs and young took on this trail",
    )
    add_day(command)
    add_json(command)
    command.add_argument(
        "-o",
        "--output",
        type=Path,
        metavar="REPORT.html",
        help="write the report, and beside it a folder with its tables and plots",
    )
    command.add_argument(
        "--public",
        action="store_true",
        help="only what the public may know of a season that is over: no box, no day, no small "
        "number",
    )
    add_archive_arguments(command)
    command.set_defaults(run=_season)


def _year(text: str) -> int:
    if not (text.isdecimal() and 1900 <= int(text) <= 2200):
        raise argparse.ArgumentTypeError(f"Expected a year like 2026, got {text!r}")
    return int(text)


def _season(arguments: argparse.Namespace) -> int:
    if arguments.trail.is_dir():
        arguments.by = arguments.by or BY_OF_ARCHIVE[0]
        return season_over_archive(arguments)
    arguments.by = arguments.by or BY
    with opened_on(arguments) as (_, contents, today):
        question = requested_season(
            contents, year=arguments.year, species=arguments.species, by=arguments.by, today=today
        )
        if arguments.public:
            return _public(arguments, contents, question.season, today=today)
        report = report_of(contents, question, today=today)
        if arguments.output is not None:
            written = _write(arguments.output, contents, question, today=today)
        record = record_of(contents, question, today=today) if arguments.json else {}
        if arguments.json:
            print_json(record["years"] if arguments.years else record)
            return 0
        _print(report, only_years=arguments.years)
        if arguments.output is not None:
            print(f"\n{written}")
    return 0


def _public(arguments: argparse.Namespace, contents: Contents, season: int, *, today: date) -> int:
    if arguments.species or arguments.by != BY or arguments.years:
        raise BadValue(
            "--public with --year, --on, --json and -o alone", "another option beside it"
        )
    summary = public_season(
        contents.histories,
        season=season,
        on=today,
        boxes=contents.ground.boxes,
        settings=contents.settings,
    )
    if arguments.output is not None:
        _write_public(arguments.output, summary, contents.settings)
    if arguments.json:
        print_json(summary_record(summary))
        return 0
    for one in summary.sentences:
        print(textwrap.fill(one.text, 96))
    for sheet in summary.tables:
        _print_sheet(sheet)
    if arguments.output is not None:
        print(f"\nWrote {arguments.output}: fit for the land owner and for anyone else.")
    return 0


def _write_public(page: Path, summary: SeasonSummary, settings: Settings) -> None:
    """One page for people who do not know the trail, by the rules of the public view."""
    if page.exists():
        raise Conflict(f"Expected a new name, got {page}, which exists")
    rules = settings.public_rules
    html = rendered(
        "season_public.html",
        summary=summary,
        contact=rules.contact,
        licence=rules.licence,
        least=LEAST_PUBLISHED,
        css=_css(),
    )
    _write_files({page: html})


def _css() -> Markup:
    """Our own style sheets, not a person's words."""
    return Markup(
        static_file("web", "site.css").read_text("utf-8")
        + static_file("season", "season.css").read_text("utf-8")
    )


def _write_files(files: Mapping[Path, str]) -> None:
    try:
        for path, text in files.items():
            path.parent.mkdir(exist_ok=True)
            path.write_text(text, encoding="utf-8")
    except OSError as error:
        raise StorageFull(f"{error.filename} cannot be written: {error.strerror}") from error


def _print_sheet(sheet: Sheet) -> None:
    print(f"\n{sheet.title}")
    print_table(sheet.heads, sheet.texts())
    if sheet.has_few:
        print(FEW_NOTE)


def _print(report: SeasonReport, *, only_years: bool) -> None:
    print(f"{report.trail}, season {report.season}")
    for passage in passages(report):
        if only_years and passage.name != YEARS:
            continue
        print(f"\n{passage.heading}")
        for one in passage.sentences:
            print(textwrap.fill(one.text, 96, initial_indent="  ", subsequent_indent="    "))
    for sheet in sheets(report):
        if sheet.passage == YEARS if only_years else sheet.name in _ON_A_TERMINAL:
            _print_sheet(sheet)


def _write(page: Path, contents: Contents, query: ReportQuery, *, today: date) -> str:
    """Write the page and the folder beside it; what was written, in words."""
    folder = page.with_name(f"{page.stem}-tables-and-plots")
    for path in (page, folder):
        if path.exists():
            raise Conflict(f"Expected a new name, got {path}, which exists")
    report = report_of(contents, query, today=today)
    files: dict[str, str] = {}

    def svg_of(plot: Plot, narrow: bool) -> str:
        svg = plot_of(contents, query, plot.name, today=today, narrow=narrow)
        if not narrow:
            files[f"{plot.name}.svg"] = svg
        return f"data:image/svg+xml;base64,{base64.b64encode(svg.encode()).decode()}"

    laid_out = shown(
        contents,
        report,
        plot_at=svg_of,
        sheet_at=lambda sheet: f"{folder.name}/{sheet.name}.csv",
    )
    files |= {f"{sheet.name}.csv": as_csv(sheet) for sheet in sheets(report)}
    html = rendered(
        "season_file.html", shown=laid_out, few_note=FEW_NOTE, most_rows=MOST_ROWS, css=_css()
    )
    _write_files({folder / name: text for name, text in files.items()} | {page: html})
    plots = sum(name.endswith(".svg") for name in files)
    return (
        f"Wrote {page}, and beside it {folder.name} with {len(files) - plots} tables (CSV) and "
        f"{plots} plots (SVG). It shows exact places and boxes: give it only to people who may "
        "know them."
    )


ARGUMENTS = {"season": _arguments}
