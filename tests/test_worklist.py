"""The rows of a plan as one works them: what ends a pass is not hidden in its last row."""

import csv
import io
import re

import pypdf

from analyzer.answers import Answers
from analyzer.layout import load_layout
from analyzer.outlook import look_ahead
from analyzer.pdf import render
from analyzer.plan import make_plan
from analyzer.plan_tables import plan_csv
from analyzer.report import plan_page
from analyzer.tuning import make_tuning
from tests.survey_of import START, survey_of
from tests.test_translation import kept_with, planned

LEVER = load_layout("lever-34")
ENDS = "Then go through this table again from the top"


def plan_of(cents=None):
    off = {s.string: -120.0 for s in LEVER.strings} | (cents or {})
    survey = survey_of(LEVER, make_tuning(LEVER), off)
    return make_plan(survey, Answers(inspected="good", confirm_all=True), start=START)


def test_what_ends_a_pass_stands_below_its_table_and_in_no_cell():
    plan = plan_of()
    assert not any(ENDS in row.remark for one in plan.passes for row in one)
    page = plan_page.render(plan)
    below = re.findall(r'<p class="after">.*?</p>', page)
    assert sum(ENDS in text for text in below) == len(plan.passes) - 1  # the last pass has an end of its own
    assert not any(ENDS in table for table in re.findall(r'<table class="turns">.*?</table>', page, re.DOTALL))
    assert "Then stop, let it rest, look at soundboard and joints" in page


def test_in_the_table_for_scripts_it_is_remarked_in_the_last_row_of_each_pass():
    plan = plan_of()
    rows = list(csv.DictReader(io.StringIO(plan_csv(plan))))
    last = [row for row, later in zip(rows, [*rows[1:], {"pass": ""}], strict=True) if row["pass"] != later["pass"]]
    assert [row["pass"] for row in rows if "Then " in row["remark"]] == [row["pass"] for row in last]


def test_it_stands_on_paper_too():
    survey, answers = planned()
    outlook = look_ahead(survey, kept_with(survey, answers))
    pages = pypdf.PdfReader(io.BytesIO(render(survey, {}, {}, "a4", outlook))).pages
    assert "Then stop, let it rest" in " ".join("".join(page.extract_text() for page in pages).split())


def test_a_string_just_let_down_is_not_called_not_turned():
    first = plan_of({"B5": 90.0}).passes[0]
    kinds = [(row.kind, row.remark) for row in first if row.string == "B5"]
    assert kinds[0] == ("lower", "Too high: let it down before anything is raised.")
    assert all(remark.startswith("Let down above") for kind, remark in kinds[1:] if kind == "keep")
    assert [kind for kind, _ in kinds].count("keep") == 1
