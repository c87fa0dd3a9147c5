"""What a plan says whatever the harp, against what differs from harp to harp."""

import re

from analyzer import plan_words
from analyzer.answers import Answers
from analyzer.layout import load_layout
from analyzer.plan import make_plan
from analyzer.prices import PriceLine, Prices
from analyzer.report import plan_page
from analyzer.tuning import make_tuning
from tests.survey_of import START, survey_of

LEVER = load_layout("lever-34")


def test_no_fixed_sentence_names_a_note_for_which_one_it_is_depends_on_the_tuning() -> None:
    # the string C4 of a harp tuned in seven flats is a semitone below middle C, and in an early pass lower still
    said = " ".join(plan_words.NO_REFERENCE_TEXTS)
    assert not re.search(r"\b[A-G][#♯b♭]?\d\b|middle C", said)
    assert "tones of this pass" in said


def test_no_string_is_called_new_before_anybody_has_looked_whether_it_is_missing() -> None:
    survey = survey_of(
        LEVER, make_tuning(LEVER), {s.string: None if s.string in ("A3", "B3") else -30.0 for s in LEVER.strings}
    )
    answers = Answers(inspected="good", replaced=("B3",))
    said = " ".join(visit.what for visit in make_plan(survey, answers, start=START).visits)
    assert "B3" in said
    assert "A3" not in said


def test_what_the_budget_does_not_reach_is_not_for_want_of_a_price_list() -> None:
    survey = survey_of(LEVER, make_tuning(LEVER), {s.string: None if s.string == "C2" else 0.0 for s in LEVER.strings})
    prices = Prices(
        lines=(PriceLine(string="C2", price=29.5, material="", stringing="", line=2),),
        wire_set=None,
    )
    plan = make_plan(survey, Answers(inspected="good", confirmed=("C2",)), start=START, prices=prices, budget=5.0)
    assert [p.urgency for p in plan.purchases] == ["later: over the budget"]
    assert plan_words.total(plan.purchases, plan.budget, priced=plan.priced) == "In all 0.00 of 5.00."
    assert "--prices" in plan_words.total(plan.purchases, None, priced=False)
    assert "In all 0.00 of 5.00." in plan_page.render(plan)
