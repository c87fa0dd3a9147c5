"""The summary and the charts in words, whole, for cases where each sentence matters."""

from dataclasses import replace

from analyzer import figures, words
from analyzer.answers import Answers
from analyzer.outlook import look_ahead
from analyzer.report import render
from analyzer.sentences import by_eye, decay_alt, deviation_alt, summary, summary_parts
from analyzer.survey import LookRow
from tests.example_survey import example_survey
from tests.test_report import NO_CHARTS
from tests.test_translation import kept_with, planned


def in_tune():
    survey = example_survey()
    heard = survey.strings[0]
    rows = (replace(heard, string=r.string, note=r.note, cents=0.4, cents_u95=0.5) for r in survey.strings)
    return replace(
        survey,
        strings=tuple(rows),
        doubts=(),
        remarks=(),
        a4_that_fits_hz=None,
        recordings=(replace(survey.recordings[0], findings=()),),
        tuning=replace(survey.tuning, settled_by="person"),
    )


def test_a_neglected_harp():
    assert summary(example_survey()) == (
        "Of the 30 strings measured, 27 are flat, 1 is sharp, 1 is within 5 cents of the note and 1 is about an"
        " octave low (G2).",
        "Half of them are more than 1.1 semitones off; the furthest is C2, 4.4 semitones flat, and the bass is the"
        " worst part.",
        "1 more string was measured, but may be another: it is not counted (D4).",
        "3 strings of 34 were not heard (E♭2, A♭3 and F6): missing, broken, or skipped in the recording.",
        "3 strings sound dull beside the neighbours (B♭2, C5 and D5).",
        "1 string sounds false, without one clear pitch (F4).",
        "1 string sounds odd, and should be checked by hand (E♭5).",
        "Settle the question below before any pin is turned: the recording can be read in another way too.",
        "Record again if you can: the check-up below says what is wrong with this recording.",
        "Look at G2: very slack, or a string of another octave in its place.",
        "Pluck D4 again, to make sure that the name is right.",
        "Look whether E♭2, A♭3 and F6 are there at all, and fit what is missing.",
        "Let a qualified harp technician look the harp over before it is brought up, then raise it in several small"
        " passes over days.",
        "A typical figure is good to ± 0.6 cents (95 %).",
        "The sound taken for D4 may be another string’s: D4 is 64 % likely.",
        "The condition of 2 strings could not be judged (G6 and A♭6).",
        "The recording has 1 serious fault and 1 lesser fault: see its check-up.",
        "All of it assumes levers off, E-flat major, A4 = 440 Hz, because nobody said otherwise.",
    )


def test_a_harp_in_tune():
    assert summary(in_tune()) == (
        "Of the 34 strings measured, 34 are within 5 cents of the note.",
        "Every one of the 34 strings was heard.",
        "The harp needs no tuning.",
        "A typical figure is good to ± 0.5 cents (95 %).",
        "Nothing in the recording spoils the measurement.",
    )


def test_strings_said_to_be_missing_are_not_looked_for():
    survey = in_tune()
    gone = (replace(row, status="not heard", cents=None, remarks=(words.SAID_MISSING,)) for row in survey.strings[:2])
    lost = replace(survey.strings[2], status="not heard", cents=None)
    said = summary(replace(survey, strings=(*gone, lost, *survey.strings[3:])))
    assert "2 strings of 34 are missing, as was said (C2 and D2)." in said
    assert "1 string of 34 was not heard (E♭2): missing, broken, or skipped in the recording." in said
    assert "Look whether E♭2 is there at all, and fit what is missing." in said
    assert "Have new strings fitted for C2 and D2." in said


def to_do(survey, answers):
    return dict(summary_parts(survey, answers))[words.FIRST]


def test_what_the_answers_settle_is_no_more_to_be_done():
    survey = replace(example_survey(), doubts=())  # E2, A3, F6 not heard, G2 an octave low, D4 uncertain
    told = " ".join(to_do(survey, Answers(confirmed=("G2", "A3", "D4"), fitted={"F6": "2026-03-01"}, inspected="good")))
    assert "Look whether E♭2 is there at all" in told
    assert "Have a new string fitted for A♭3." in told
    assert not any(text in told for text in ("G2", "D4", "F6", "qualified"))
    assert "Raise the harp in several small passes over days." in told
    cracked = " ".join(to_do(survey, Answers(replaced=("G2",), inspected="a crack in the neck")))
    assert "Have a new string fitted for G2." in cracked
    assert "Let a qualified harp technician look the harp over" in cracked


def test_the_report_made_again_after_the_plan_asks_for_nothing_that_was_answered():
    survey, answers = planned()
    page = render(survey, NO_CHARTS, {}, look_ahead(survey, kept_with(survey, answers)))
    assert "Let a qualified harp technician look the harp over" not in page
    assert "Look whether" not in page[: page.index('id="cautions"')]
    assert "Look whether" in render(survey, NO_CHARTS)


def test_strings_beyond_the_first_and_last_plucked_are_not_looked_for():
    survey = in_tune()
    names = [row.string for row in survey.strings]
    few = tuple(
        row if 10 <= k <= 13 and k != 12 else replace(row, status="not heard", cents=None, cents_u95=None)
        for k, row in enumerate(survey.strings)
    )
    part = replace(survey, strings=few, said={"first": names[13], "last": names[10]})
    said = summary(part)
    assert "1 string of 34 was not heard (A♭3): missing, broken, or skipped in the recording." in said
    assert "30 other strings of 34 were not to be in the recording: nothing is said of them." in said
    assert deviation_alt(part).endswith("1 is not heard (A♭3); 30 were not to be in the recording.")


def test_the_pitch_it_would_fit_is_told_only_of_a_harp_in_tune_with_itself():
    survey = replace(in_tune(), a4_that_fits_hz=431.2)
    told = "Taken together they would fit about A4 = 431 Hz; every figure here is against A4 = 440 Hz all the same."
    even = replace(survey, strings=tuple(replace(row, cents=-35.0) for row in survey.strings))
    uneven = replace(survey, strings=tuple(replace(row, cents=-3.0 * k) for k, row in enumerate(survey.strings)))
    assert told in summary(even)
    assert told not in summary(uneven)
    assert told not in summary(survey)


def test_an_octave_below_slack_neighbours_is_an_octave_low():
    survey = in_tune()
    slack = [replace(row, cents=-170.0) for row in survey.strings]
    slack[9] = replace(slack[9], cents=-1372.0)
    said = summary(replace(survey, strings=tuple(slack)))
    assert said[0] == "Of the 34 strings measured, 33 are flat and 1 is about an octave low (E♭3)."


def test_strings_far_too_high_are_let_down_first():
    survey = in_tune()
    strings = (replace(survey.strings[0], cents=130.0), *survey.strings[1:])
    said = summary(replace(survey, strings=strings))
    assert "Let C2 down to the note before anything else is raised: too high is too tight." in said
    assert "Tune the harp, all strings a little at a time, and again after a day." in said


def test_while_the_setting_is_in_doubt_nothing_is_to_be_tuned():
    doubts = example_survey().doubts
    raised = tuple(replace(row, cents=101.0) for row in in_tune().strings)
    said = summary(replace(in_tune(), strings=raised, doubts=doubts, a4_that_fits_hz=466.4))
    assert not [text for text in said if "Let " in text or "tune the harp" in text.lower() or "A4 = 466" in text]
    assert any(text.startswith("Settle the question below") for text in said)


def test_the_deviation_chart_in_words():
    assert deviation_alt(example_survey()) == (
        "27 of 34 strings are flat, the bass most, by up to 4.4 semitones; 1 is sharp, by 12 cents; 1 is within 5"
        " cents of the note; 1 is about an octave low (G2); 1 may be another (D4); 3 are not heard (E♭2, A♭3 and F6)."
    )
    assert deviation_alt(in_tune()) == "34 of 34 strings are within 5 cents of the note."


def test_the_decay_chart_in_words():
    assert decay_alt(example_survey()) == (
        "Decay times of 29 strings, from 7.5 s at C2 to 0.95 s at E♭6; 3 strings are dull (B♭2, C5 and D5)."
    )
    assert decay_alt(in_tune()).endswith("; no string is judged dull.")


def test_a_decay_that_was_cut_off_is_counted_apart_and_drawn_faintly():
    survey = example_survey()
    rows = [
        replace(r, decay_u95_s=1.2 * r.decay_s) if r.decay_s and r.string in ("C2", "D2") else r for r in survey.strings
    ]
    cut_off = replace(survey, strings=tuple(rows))
    assert decay_alt(cut_off).startswith("Decay times of 27 strings")
    assert "; 2 more were cut off too soon to tell (the faint marks)" in decay_alt(cut_off)
    assert figures.decay(cut_off).count("<path") < figures.decay(survey).count("<path")


def test_decays_that_were_all_cut_off_are_drawn_and_said_so_beside_the_dull_strings():
    survey = example_survey()
    rows = [replace(r, decay_u95_s=1.2 * r.decay_s) if r.decay_s else r for r in survey.strings]
    said = decay_alt(replace(survey, strings=tuple(rows)))
    assert said.startswith("The decays of 29 strings were cut off too soon to tell (the faint marks); 3 strings are")


def test_strings_to_check_by_eye_are_named_as_ranges():
    survey = example_survey()
    names = [row.string for row in survey.strings]
    looked = replace(survey, by_eye=(LookRow(strings=(names[0], *names[5:9]), what="Knots."),))
    ((strings, what),) = by_eye(looked)
    alone, low, high = (words.note(survey.strings[k].note) for k in (0, 5, 8))
    assert strings == f"{alone}, {low}–{high}"
    assert what == "Knots."
