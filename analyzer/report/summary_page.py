"""A survey as a short page without figures: its summary, what is to be settled, and every string. For batches."""

from analyzer import sentences, tables, words
from analyzer.report.page import fill
from analyzer.settings import ReportSettings
from analyzer.survey import Survey

SETTINGS = ReportSettings()


def render(survey: Survey) -> str:
    """The page."""
    return fill(
        "summary.html",
        survey=survey,
        w=words,
        title=words.shorten(survey.title, SETTINGS.title_n) or survey.layout.title,
        summary=sentences.summary_parts(survey),
        lines=[
            (row, cells, words.states(row))
            for row, cells in zip(survey.strings, tables.strings_cells(survey), strict=True)
        ],
    )
