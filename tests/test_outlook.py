"""What lies ahead: a verdict only where it can be said, a plan only where it may be made, purchases only by name."""

from dataclasses import replace

import pytest

from analyzer.answers import Answers, Kept, fingerprint
from analyzer.outlook import look_ahead
from analyzer.paying_words import first_line
from analyzer.plan import make_plan
from analyzer.questions import open_questions
from analyzer.report import plan_page, render
from analyzer.response import Response
from analyzer.speech import Manner, speaking
from tests.example_survey import example_survey
from tests.survey_moves import moved, plain, with_rows
from tests.survey_of import START
from tests.test_report import HOSTILE, NO_CHARTS, Page
from tests.test_translation import kept_with, planned


def stated(survey):
    """The same, its setting stated."""
    return replace(
        survey, doubts=(), tuning=replace(survey.tuning, settled_by="person", stated=("key", "levers", "pedals"))
    )


def test_a_harp_in_tune_is_playable_and_nobody_is_said_to_have_looked_at_it():
    sound = with_rows(stated(plain()), {row.string: {"status": "heard"} for row in plain().strings})
    heard = replace(sound, strings=tuple(replace(r, cents=r.cents or 0.0, verdict="sound") for r in sound.strings))
    verdict, rest = first_line(look_ahead(heard))
    assert verdict == "Playable now"
    assert rest == ", judged from sound alone; nobody has said yet what the wood looks like."


def test_nothing_is_said_of_playing_while_the_reading_is_open():
    verdict, rest = first_line(look_ahead(example_survey()))
    assert verdict == "Whether it may be played cannot be said yet"
    assert "read in another way" in rest


def test_nothing_is_said_where_nobody_said_what_it_is_tuned_to():
    survey = replace(plain(), tuning=replace(plain().tuning, settled_by="default", stated=()))
    assert look_ahead(survey).unsaid == ("Nobody said what the harp is tuned to.",)


def test_nothing_is_said_where_hardly_a_string_was_measured():
    survey = stated(plain())
    few = replace(
        survey,
        strings=tuple(r if i < 10 else replace(r, status="uncertain") for i, r in enumerate(survey.strings)),
    )
    assert look_ahead(few).unsaid == ("Only 9 of 34 strings were measured for sure.",)


def test_a_string_fitted_after_the_survey_was_made_stops_no_report():
    survey = stated(plain())
    answers = Answers(inspected="good", confirm_all=True, fitted={"C4": "2026-03-09"})  # made on 2026-03-02
    kept = Kept(schema=1, fingerprint=fingerprint(survey), answers=answers, turns=(), checkpoint_passes=0)
    ahead = look_ahead(survey, kept)
    assert ahead.plan is not None
    assert not ahead.to_answer


def test_the_report_has_the_plan_that_was_made_on_how_the_harp_gave_way():
    survey = stated(moved(plain(), lambda i, _: -160.0))
    answers = Answers(inspected="good", confirm_all=True)
    response = Response(
        cents=300.0, low_cents=200.0, high_cents=400.0, settling_cents=6.0, cents_per_day=1.0, strings_n=5
    )
    made = make_plan(survey, answers, start=START, response=response)
    kept = replace(kept_with(survey, answers), turns=made.turns, response=response)
    assert look_ahead(survey, kept).plan.passes == made.passes
    assert look_ahead(survey, kept).plan.checkpoint_n == made.checkpoint_n


def test_what_was_seen_overrules_what_was_heard():
    survey = stated(plain())
    answers = Answers(inspected="the soundboard is cracked", advised_by="Ada", confirm_all=True)
    ahead = look_ahead(survey, kept_with(survey, answers))
    assert ahead.paying is not None
    assert ahead.paying.playable == "do not play"
    assert ahead.paying.why[0] == "Seen on the harp: the soundboard is cracked."


def test_a_slack_harp_that_was_looked_over_is_not_to_be_looked_over_again():
    survey = stated(moved(plain(), lambda i, _: -160.0))
    assert "have it looked over" in look_ahead(survey).paying.why[0]
    paying = look_ahead(survey, kept_with(survey, Answers(inspected="good", confirm_all=True))).paying
    assert paying.playable == "do not play"
    assert paying.why[0] == "It stands slack: to be brought up, in passes over days, before it is played."
    advised = Answers(inspected="a crack", advised_by="A. Technician", confirm_all=True)
    paying = look_ahead(survey, kept_with(survey, advised)).paying
    assert paying.why[0] == "Seen on the harp: a crack."
    assert not any("have it looked over" in why for why in paying.why)


def test_there_is_a_plan_only_with_every_answer():
    survey, answers = planned()
    before = look_ahead(survey)
    assert before.plan is None
    assert [q.code for q in before.to_answer] == [q.code for q in open_questions(survey, Answers())] != []
    after = look_ahead(survey, kept_with(survey, answers))
    assert after.plan is not None
    assert after.to_answer == ()


def test_answers_to_another_reading_are_not_used():
    survey, answers = planned()
    kept = kept_with(survey, answers)
    other = with_rows(survey, {"C4": {"cents": -12.0}})
    assert look_ahead(other, kept).answers == Answers()
    assert look_ahead(other, kept).plan is None


def test_a_string_nobody_looked_for_is_not_on_the_list_to_buy():
    survey, answers = planned()
    before = look_ahead(survey)
    assert set(before.look_first) == {"A3", "F6"}
    assert not {"A3", "F6"} & {one.string for one in before.purchases}
    assert {"A3", "F6"} <= {one.string for one in look_ahead(survey, kept_with(survey, answers)).purchases}


def test_nothing_is_to_be_bought_while_it_is_open_which_string_is_which():
    assert look_ahead(example_survey()).purchases == ()


@pytest.mark.parametrize("language", ["en", "de"])
def test_its_sentences_are_english_whoever_is_spoken_to(language):
    survey, _ = planned()
    with speaking(Manner(language=language)):
        spoken = look_ahead(survey)
    assert spoken == look_ahead(survey)


@pytest.mark.parametrize("text", HOSTILE, ids=range(len(HOSTILE)))
def test_whatever_was_said_of_the_inspection_is_shown_as_text(text):
    survey, answers = planned()

    def page_of(words):
        said = replace(answers, inspected=words, advised_by=words)
        page = render(survey, NO_CHARTS, {}, look_ahead(survey, kept_with(survey, said)))
        return Page(page), plan_page.render(make_plan(survey, said, start=START))

    (shown, order), (plain_shown, plain_order) = page_of(text), page_of("plain words, a crack")
    assert shown.wrong == []
    assert [tag for tag, _ in shown.elements] == [tag for tag, _ in plain_shown.elements]
    assert shown.text.count(text) >= 2
    assert [tag for tag, _ in Page(order).elements] == [tag for tag, _ in Page(plain_order).elements]
    assert text in Page(order).text
