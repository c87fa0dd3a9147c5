"""A survey as a short page without figures: its summary, what is to be settled, and every string. For batches."""

from analyzer import collection_words, sentences, words
from analyzer.report.page import fill
from analyzer.restating import restated
from analyzer.settings import ReportSettings
from analyzer.speech import say
from analyzer.survey import Survey

SETTINGS = ReportSettings()


def render(survey: Survey) -> str:
    """The page."""
    return fill(
        "summary.html",
        scripts=(),
        texts=collection_words,
        title=words.shorten(survey.title, SETTINGS.title_n) or restated(survey.layout.title).text,
        kind=say(collection_words.SHORT_KIND),
        date=survey.date,
        version=survey.program_version,
        survey=survey,
        summary=sentences.summary_parts(survey),
        lines=[(row, words.states(row)) for row in survey.strings],
    )
