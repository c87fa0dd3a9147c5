"""The page that takes the place of a work order taken back, and says why."""

from analyzer import withdrawn_words, words
from analyzer.answers import Answers
from analyzer.questions import inspection_good
from analyzer.report.page import fill
from analyzer.restating import restated
from analyzer.settings import ReportSettings
from analyzer.speech import say
from analyzer.survey import Survey
from analyzer.version import VERSION

SETTINGS = ReportSettings()


def render(survey: Survey, answers: Answers, date: str) -> str:
    """The page, in the manner of the moment."""
    title = words.shorten(survey.title, SETTINGS.title_n) or restated(survey.layout.title).text
    seen = answers.inspected
    return fill(
        "withdrawn.html",
        styles=("style.css", "pages.css"),
        scripts=(),
        texts=withdrawn_words,
        title=title,
        kind=say(withdrawn_words.KIND),
        date=date,
        version=VERSION,
        found=None if seen is None or inspection_good(seen) else seen,
        historical=bool(answers.historical),
    )
