"""A season's report: its facts, and the same facts as sentences, tables and plain values.

`season_report` works everything out once; whatever is shown or written comes from it.
"""

from layers.nesting.season.report.building import season_report
from layers.nesting.season.report.cells import (
    FEW_MARK,
    FEW_NOTE,
    Sheet,
    as_csv,
    format_cell,
    is_few,
)
from layers.nesting.season.report.facts import SeasonReport
from layers.nesting.season.report.groupings import GROUPINGS
from layers.nesting.season.report.record import report_record, summary_record
from layers.nesting.season.report.sentences import Passage, passages
from layers.nesting.season.report.sheets import sheets
from layers.nesting.season.report.summary import SeasonSummary, season_summary
from layers.nesting.season.report.wording import Sentence

__all__ = [
    "FEW_MARK",
    "FEW_NOTE",
    "GROUPINGS",
    "Passage",
    "SeasonReport",
    "SeasonSummary",
    "Sentence",
    "Sheet",
    "as_csv",
    "format_cell",
    "is_few",
    "passages",
    "report_record",
    "season_report",
    "season_summary",
    "sheets",
    "summary_record",
]
