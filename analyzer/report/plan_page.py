"""A plan as one printable HTML page to work from at the harp."""

from analyzer import plan_tables, plan_words, words
from analyzer.plan import Plan
from analyzer.report.page import csv_rows, fill
from analyzer.restating import restated
from analyzer.settings import ReportSettings
from analyzer.speech import say

SETTINGS = ReportSettings()


def render(plan: Plan) -> str:
    """The page."""
    layout_title = restated(plan.layout_title).text
    return fill(
        "plan.html",
        styles=("style.css", "pages.css", "plan.css"),
        texts=plan_words,
        title=words.shorten(plan.title, SETTINGS.title_n) or layout_title,
        kind=say(plan_words.KIND),
        date=str(plan.start),
        version=plan.program_version,
        p=plan,
        layout_title=layout_title,
        csv={
            "plan": csv_rows(plan_tables.plan_csv(plan)),
            "buy": csv_rows(plan_tables.buy_csv(plan)),
            "load": csv_rows(plan_tables.load_csv(plan)),
        },
    )
