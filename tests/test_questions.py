import re
from dataclasses import replace
from typing import Any

import pytest

from analyzer.answers import Answers, Kept, checked, fingerprint, joined, kept_json, read_answers, read_kept
from analyzer.errors import UnusableInput
from analyzer.layout import load_layout
from analyzer.plan import make_plan
from analyzer.questions import LOOK_AT, absent, contradiction, in_doubt, inspection_good, open_questions, refuse
from analyzer.speech import Manner, speaking
from analyzer.survey import Doubt, Survey
from analyzer.tuning import make_tuning
from tests.example_survey import example_survey
from tests.survey_of import START, survey_of

LEVER = load_layout("lever-34")
NAMES = [s.string for s in LEVER.strings]
SEMITONE = (
    "Every string lies about a semitone above its target, very evenly (within 6 cents). No slack harp is too high: it"
    " is probably set to another key than levers off, E-flat major, A4 = 440 Hz. Look at the levers or pedals and give"
    " --tuning and --levers or --pedals as they are."
)
ALL = Answers(inspected="good", confirm_all=True)


def slack(changes: dict[str, dict[str, Any]] | None = None, **more: Any) -> Survey:
    return survey_of(LEVER, make_tuning(LEVER), dict.fromkeys(NAMES, -120.0), changes, **more)


def codes(survey: Survey, answers: Answers) -> list[str]:
    return [q.code for q in open_questions(survey, answers)]


def test_the_refusal_speaks_german() -> None:
    doubt = Doubt(code="semitone", sentence=SEMITONE)
    survey = slack({"D4": {"status": "uncertain"}, "E4": {"cents": -1300.0}}, doubts=(doubt,))
    with speaking(Manner(language="de")):
        said = str(refuse(open_questions(survey, Answers())))
    assert said.startswith("noch kein Plan: ")
    assert "--inspected gut" in said
    assert "E4: 1300 Cent zu tief" in said
    assert not re.search(r"\b(?:the|then|look|say|or|of|string|you)\b", said)


def test_a_refusal_is_a_line_for_each_answer_and_names_strings_by_what_is_the_matter() -> None:
    survey = slack({name: {"match_confidence": 0.5} for name in ("D4", "E4", "F4")} | {"G4": {"cents": -1300.0}})
    first, *lines = str(refuse(open_questions(survey, Answers()))).split("\n")
    assert first.startswith("no plan yet: not inspected: do not raise; not confirmed by hand: ")
    assert [line[:6] for line in lines] == ["  (1) ", "  (2) "]
    assert lines[1].count("it is not surely recognised") == 1
    assert "D4, E4 and F4: it is not surely recognised; G4: 1300 cents low" in lines[1]


def test_an_unremarkable_harp_needs_only_an_inspection() -> None:
    assert codes(slack(), Answers()) == ["inspected"]
    assert codes(slack(), Answers(inspected="good")) == []
    said = str(refuse(open_questions(slack(), Answers())))
    assert said.startswith("no plan yet: not inspected: do not raise.")
    for part in ("soundboard", "neck", "joints", "base", "pillar", "tuning pins", "bridge pins"):
        assert part in said


@pytest.mark.parametrize(
    ("kind", "layout", "stated", "answers", "open_"),
    [
        ("lever", "lever-34", (), Answers(inspected="good"), ["levers", "tuning"]),
        ("lever", "lever-34", ("key",), Answers(inspected="good"), ["levers"]),
        ("lever", "lever-34", ("key",), Answers(inspected="good", levers="off"), []),
        ("lever", "lever-34", ("levers",), Answers(inspected="good", key="E-flat"), []),
        ("pedal", "pedal-47", (), Answers(inspected="good"), ["pedals"]),
        ("pedal", "pedal-47", (), Answers(inspected="good", pedals="flat"), []),
    ],
)
def test_the_setting_has_to_be_said_by_somebody(
    kind: str, layout: str, stated: tuple[str, ...], answers: Answers, open_: list[str]
) -> None:
    its = load_layout(layout)
    survey = survey_of(its, make_tuning(its), {s.string: -50.0 for s in its.strings})
    survey = replace(survey, tuning=replace(survey.tuning, stated=stated, settled_by="default"))
    assert its.kind == kind
    assert codes(survey, answers) == open_


@pytest.mark.parametrize(
    ("change", "doubted"),
    [
        ({"status": "uncertain"}, True),
        ({"match_confidence": 0.94}, True),
        ({"match_confidence": 0.95}, False),
        ({"cents": -700.0}, True),
        ({"cents": -699.0}, False),
        ({"cents": None}, True),
    ],
)
def test_strings_that_must_be_looked_at_by_hand(change: dict[str, Any], doubted: bool) -> None:
    survey = slack({"G3": change})
    row = next(r for r in survey.strings if r.string == "G3")
    assert bool(in_doubt(row)) is doubted
    good = Answers(inspected="good")
    assert codes(survey, good) == (["strings"] if doubted else [])
    for settled in (replace(good, confirmed=("G3",)), replace(good, confirm_all=True), replace(good, replaced=("G3",))):
        assert codes(survey, settled) == []
    if doubted:
        assert "G3" in str(refuse(open_questions(survey, good)))


def test_a_string_whose_sound_was_perhaps_taken_for_another_is_asked_about() -> None:
    pluck = replace(example_survey().plucks[0], string="C3", confidence=0.52, also_possible=(("B2", 0.46),))
    survey = replace(slack({"B2": {"status": "not heard", "cents": None}}), plucks=(pluck,))
    good = Answers(inspected="good")
    assert codes(survey, good) == ["strings"]
    also = slack({"B2": {"status": "not heard", "cents": None}, "E5": {"status": "not heard", "cents": None}})
    said = str(refuse(open_questions(replace(also, plucks=(pluck,)), good)))
    assert said.endswith("--confirm all says too that E5 is not on the harp.")
    assert "B2: not heard, or its sound was taken for C3 (46%)" in str(refuse(open_questions(survey, good)))
    assert codes(survey, replace(good, confirmed=("B2",))) == []
    assert codes(replace(survey, said={"missing": "B2"}), good) == []
    assert codes(replace(survey, plucks=()), good) == []


def test_another_reading_of_the_whole_harp_stops_the_plan_until_the_setting_is_said() -> None:
    survey = slack(doubts=(Doubt(code="another key", sentence="The strings also fit C major."),))
    assert codes(survey, Answers(inspected="good")) == ["doubts"]
    assert "also fit C major" in str(refuse(open_questions(survey, Answers(inspected="good"))))
    assert codes(survey, Answers(inspected="good", levers="off")) == []


def test_no_answer_settles_that_the_recording_may_be_of_another_harp() -> None:
    survey = slack(doubts=(Doubt(code="another layout", sentence="There are 34 sounds for 27 strings."),))
    said = replace(ALL, levers="off", key="E-flat")
    assert codes(survey, said) == ["doubts"]
    assert open_questions(survey, said)[0].ask == ""  # nor is anything typed at the keyboard
    assert "34 sounds" in str(refuse(open_questions(survey, said)))


def test_an_answer_that_contradicts_the_survey_is_named() -> None:
    survey = slack()
    assert contradiction(survey, Answers(levers="off")) == ""
    assert contradiction(survey, Answers(key="E-flat", levers="off")) == ""
    assert "run harp-survey analyze again with --levers 'F4'" in contradiction(survey, Answers(levers="F4"))
    assert "--tuning 'C'" in contradiction(survey, Answers(key="C"))
    with pytest.raises(UnusableInput, match="levers off"):
        make_plan(survey, replace(ALL, levers="on"), start=START)
    with pytest.raises(UnusableInput, match="has none"):
        contradiction(survey, Answers(pedals="flat"))


def test_own_targets_are_no_contradiction() -> None:
    tuning = make_tuning(LEVER, "E-flat", levers="off", own_targets={"C4": "+12.5"})
    survey = survey_of(LEVER, tuning, dict.fromkeys(NAMES, -120.0), said={"levers": "off"})
    assert contradiction(survey, Answers(levers="off")) == ""
    assert contradiction(survey, Answers(levers="D4")) != ""


def test_pedals_said_again_agree_and_others_contradict() -> None:
    its = load_layout("pedal-47")
    survey = survey_of(its, make_tuning(its, pedals="natural"), {s.string: -50.0 for s in its.strings})
    assert contradiction(survey, Answers(pedals="natural")) == ""
    assert "--pedals 'flat'" in contradiction(survey, Answers(pedals="flat"))


@pytest.mark.parametrize(
    "words",
    [
        *("good", "Good", "sound", "fine, no cracks", "all good: soundboard flat, joints tight", "ok", "nothing found"),
        *("gut", "Alles in Ordnung", "nichts gefunden", "gut, keine Risse", "einwandfrei; Fugen: nichts offen"),
        *("very good", "sehr gut", "looks good", "good but the neck is fine", "gut, keine Risse und nichts locker"),
        *("good, no cracks and no gaps", "good, no cracks and gaps", "gut, keinen Riss gesehen"),
        *("good, nothing pulled up, no pin turning back", "gut, nichts löst sich"),
        "good, whole soundboard flat",
    ],
)
def test_words_of_a_good_inspection(words: str) -> None:
    assert inspection_good(words)


@pytest.mark.parametrize(
    "words",
    [
        "hairline crack in the soundboard",
        "good but the soundboard is lifting",
        "good, except a loose joint",
        "good, neck twisted",
        "looked at it",
        "not good",
        "bad",
        "",
        "good?",
        "good, not sure about the neck",
        "good, not looked inside",
        "good, no idea about the joints",
        "good, no cracks and the neck is twisted",
        "good apart from a dent in the column",
        "good, could not see inside",
        "good, nobody looked inside",
        "good, some pins slip",
        "good, no longer closed at the neck",
        "good, not only the neck is cracked",
        "good, no glue left in a joint",
        "gut, innen nicht geschaut",
        "gut, nicht reingeschaut",
        "gut, kein Leim mehr in der Fuge",
        "intakt, nicht mehr fest",
        "gut, nicht sicher beim Hals",
        "gut, keine Risse und der Hals ist verdreht",
        "gut, aber die Decke hebt sich",
        "gut bis auf einen Riss",
        "in Ordnung, Wirbel locker",
        "nicht gut",
        "Riss in der Decke",
        # what the list to look at names, and other words than ours for a fault
        "good, soundboard pulled up more than it was",
        "good, but the pillar is coming away",
        "good; one pin turns back",
        "gut, aber die Säule löst sich",
        "gut, Wirbel drehen zurück",
        "fine lines in the soundboard",
        "sound of creaking at the neck",
        "good, joints not tight",
        "gut, Furnier abgelöst",
        "good enough",
        "good, I think",
    ],
)
def test_any_other_words_stop_the_plan_until_a_technician_agreed(words: str) -> None:
    assert not inspection_good(words)
    answers = replace(ALL, inspected=words)
    assert codes(slack(), answers) == ["advice"]
    plan = make_plan(slack(), replace(answers, advised_by="A. Maker"), start=START)
    assert plan.limits.gentle


def test_whatever_is_to_be_looked_for_is_a_finding_once_it_is_named() -> None:
    faults = [fault for look in LOOK_AT for fault in re.split(r", or |, |: | or ", look.partition(": ")[2])]
    assert {"coming away", "turning back by themselves", "pulled up more than it was"} <= set(faults)
    assert [fault for fault in faults if inspection_good(f"good, {fault}")] == []


def test_wire_strung_and_historical_harps_get_no_plan_without_advice() -> None:
    wired = replace(LEVER, strings=tuple(replace(s, material="brass") for s in LEVER.strings))
    survey = survey_of(wired, make_tuning(wired), dict.fromkeys(NAMES, -100.0))
    assert codes(survey, ALL) == ["advice"]
    assert codes(slack(), replace(ALL, historical=True)) == ["advice"]
    assert codes(slack(), replace(ALL, historical=True, advised_by="A. Maker")) == []


def test_a_string_counts_as_absent_once_somebody_says_so() -> None:
    survey = slack({"F6": {"status": "not heard", "cents": None}, "E2": {"status": "not heard", "cents": None}})
    assert absent(survey, Answers()) == ()
    assert absent(survey, Answers(confirmed=("F6",))) == ("F6",)
    assert absent(replace(survey, said={"missing": "E2, A3"}), Answers()) == ("E2",)
    assert absent(survey, Answers(confirm_all=True, fitted={"F6": "2026-03-01"})) == ("E2",)


@pytest.mark.parametrize(
    ("answers", "words"),
    [
        (Answers(confirmed=("C9",)), "not on this harp"),
        (Answers(confirmed=("G3",), replaced=("5G",)), "names no|G2"),
        (Answers(confirmed=("G3",), replaced=("G3",)), "to be replaced and as confirmed"),
        (Answers(fitted={"G3": "2026-03-01"}, replaced=("G3",)), "already fitted"),
        (Answers(fitted={"G3": "yesterday"}), "not a date"),
    ],
)
def test_answers_that_cannot_be(answers: Answers, words: str) -> None:
    if "names no" in words:  # 5G is the harp's name of G2, so these are two strings
        assert checked(answers, slack()).replaced == ("G2",)
        return
    with pytest.raises(UnusableInput, match=words):
        checked(answers, slack())


def test_what_is_kept_comes_back_and_what_is_said_now_goes_before(tmp_path: Any) -> None:
    survey = slack()
    kept = Kept(
        schema=1,
        fingerprint=fingerprint(survey),
        answers=Answers(inspected="good", confirmed=("G3",), levers="off", gentle=True),
        turns=make_plan(survey, ALL, start=START).turns,
        checkpoint_passes=1,
    )
    assert read_kept(tmp_path) is None
    (tmp_path / "plan-answers.json").write_bytes(kept_json(kept))
    assert read_kept(tmp_path) == kept
    now = joined(kept.answers, Answers(inspected="good, joints tight", replaced=("G3",), gentle=False))
    assert (now.inspected, now.levers, now.confirmed, now.replaced) == ("good, joints tight", "off", (), ("G3",))
    assert now.gentle is False
    assert fingerprint(slack({"G3": {"cents": -121.0}})) != kept.fingerprint
    assert fingerprint(replace(survey, made_at="later")) == kept.fingerprint


@pytest.mark.parametrize("text", ["{", '{"schema": 99}', "[]", '{"schema": 1}', '{"schema": "x"}'])
def test_a_file_that_is_not_ours_is_refused(tmp_path: Any, text: str) -> None:
    (tmp_path / "plan-answers.json").write_text(text, encoding="utf-8")
    with pytest.raises(UnusableInput, match="plan-answers"):
        read_kept(tmp_path)


def test_answers_from_a_file(tmp_path: Any) -> None:
    file = tmp_path / "answers.json"
    file.write_text('{"inspected": "good", "confirmed": ["G3"]}', encoding="utf-8")
    assert read_answers(file) == Answers(inspected="good", confirmed=("G3",))
    file.write_text('{"inspectd": "good"}', encoding="utf-8")
    with pytest.raises(UnusableInput, match=r"unknown answer 'inspectd'.*Did you mean inspected"):
        read_answers(file)
    file.write_text('{"confirmed": "G3"}', encoding="utf-8")
    with pytest.raises(UnusableInput, match="not a file of answers"):
        read_answers(file)
