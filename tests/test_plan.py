import csv
import io
import json
import re
from argparse import ArgumentParser
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from analyzer.answers import Answers, Kept, read_kept
from analyzer.cli import main
from analyzer.cli import plan as plan_command
from analyzer.cli import tones as tones_command
from analyzer.errors import SurveyError, UnusableInput
from analyzer.layout import load_layout
from analyzer.plan import make_plan, preview
from analyzer.plan_tables import plan_csv, plan_json, read_plan
from analyzer.report import plan_page
from analyzer.survey import Doubt, Survey, to_json
from analyzer.tuning import make_tuning
from tests.survey_of import START, survey_of

LEVER = load_layout("lever-34")
GONE = {"status": "not heard", "cents": None}
ALL = Answers(inspected="good", confirm_all=True)
ANSWERED = ("--inspected", "good", "--levers", "off", "--confirm", "all", "--date", "2026-03-02")


def slack(changes: dict[str, dict[str, Any]] | None = None, **more: Any) -> Survey:
    return survey_of(LEVER, make_tuning(LEVER), {s.string: -180.0 for s in LEVER.strings}, changes, **more)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    home = tmp_path / "survey"
    home.mkdir()
    survey = slack({"A3": GONE, "G2": {"cents": -1190.0}, "B5": {"cents": 240.0}})
    (home / "survey.json").write_bytes(to_json(survey))
    return home


def run(*words: object) -> int:
    grammar = ArgumentParser()
    commands = grammar.add_subparsers()
    plan_command.add(commands)
    tones_command.add(commands)
    parsed = grammar.parse_args([str(w) for w in words])
    code: int = parsed.run(parsed)
    return code


def rows(file: Path) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(file.read_text("utf-8"))))


def test_everything_of_the_contract_is_written(folder: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    assert run("plan", folder, "--out", out, *ANSWERED) == 0
    assert {p.name for p in out.iterdir()} == {
        "plan.csv",
        "load.csv",
        "buy.csv",
        "visits.ics",
        "plan.html",
        "plan.json",
    }
    turns = rows(out / "plan.csv")
    assert list(turns[0])[:9] == [
        *("pass", "order", "string", "from_cents", "to_cents", "to_hz"),
        *("tension_n_before", "tension_n_after", "remark"),
    ]
    assert list(rows(out / "load.csv")[0])[:5] == ["string", "tension_n", "full_tension_n", "share", "basis"]
    assert list(rows(out / "buy.csv")[0])[:6] == [
        *("string", "reason", "urgency", "confidence", "price", "running_total"),
    ]
    assert [(t["string"], t["kind"], float(t["to_cents"])) for t in turns[:2]] == [
        ("B5", "lower", 40),
        ("B5", "lower", 0),
    ]
    install = next(t for t in turns if t["string"] == "A3")
    assert (install["pass"], install["kind"], install["from_cents"]) == ("1", "install", "")
    assert float(install["to_cents"]) == pytest.approx(float(next(t for t in turns if t["string"] == "B3")["to_cents"]))
    targets = {r.string: r.target_hz for r in slack().strings}
    for t in turns:
        to = float(t["to_cents"])
        # cents = 1200·log2(f/f_target); T2/T1 = 2^(cents/600)
        assert float(t["to_hz"]) == pytest.approx(targets[t["string"]] * 2 ** (to / 1200), rel=1e-6)
        if t["from_cents"]:
            before, after = float(t["tension_n_before"]), float(t["tension_n_after"])
            assert after / before == pytest.approx(2 ** ((to - float(t["from_cents"])) / 600), rel=2e-3)
            assert abs(to - float(t["from_cents"])) <= 200.0
    last = {t["string"]: float(t["to_cents"]) for t in turns}
    assert set(last) == set(targets)
    assert all(-2.5 <= to <= 0.0 for to in last.values())
    orders = [(int(t["pass"]), int(t["order"])) for t in turns]
    assert orders == sorted(orders)


@pytest.mark.parametrize(
    ("left_out", "said"),
    [("--inspected", "not inspected"), ("--levers", "levers not stated"), ("--confirm", "not confirmed by hand: G2")],
)
def test_without_an_answer_no_plan_is_written(folder: Path, tmp_path: Path, left_out: str, said: str) -> None:
    survey = slack({"G2": {"cents": -1190.0}})
    survey = replace(survey, tuning=replace(survey.tuning, stated=("key",), settled_by="default"))
    (folder / "survey.json").write_bytes(to_json(survey))
    words = list(ANSWERED)
    at = words.index(left_out)
    del words[at : at + 2]
    with pytest.raises(UnusableInput, match=re.escape(said)) as stopped:
        run("plan", folder, "--out", tmp_path / "out", *words)
    assert stopped.value.exit_code == 2
    assert not (tmp_path / "out").exists()
    assert [p.name for p in folder.iterdir()] == ["survey.json"]


def test_answers_are_kept_with_the_survey(folder: Path, tmp_path: Path) -> None:
    run("plan", folder, "--out", tmp_path / "a", *ANSWERED)
    run("plan", folder, "--out", tmp_path / "b", "--date", "2026-03-02")
    assert (tmp_path / "a" / "plan.csv").read_bytes() == (tmp_path / "b" / "plan.csv").read_bytes()
    survey = slack({"G2": {"cents": -1100.0}})
    (folder / "survey.json").write_bytes(to_json(survey))
    with pytest.raises(UnusableInput, match="not inspected"):  # another reading: asked again
        run("plan", folder, "--out", tmp_path / "c")


def test_a_few_strings_recorded_again_are_no_harp_to_plan_for(folder: Path, tmp_path: Path) -> None:
    few = slack({"A3": GONE})
    (folder / "survey.json").write_bytes(to_json(replace(few, said={**few.said, "only": "G6,C5"})))
    with pytest.raises(UnusableInput, match="only single strings were recorded again"):
        run("plan", folder, "--out", tmp_path / "out", *ANSWERED)
    assert not (tmp_path / "out").exists()


def test_what_was_signed_is_not_planned_over(folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "out"
    run("plan", folder, "--out", out, *ANSWERED)
    for signed in (folder, out):
        assert main(["sign", str(signed), "--by", "A. Tester"]) == 0
    with pytest.raises(UnusableInput, match=r"signed by A\. Tester"):
        run("plan", folder, "--out", out, "--gentle")
    run("plan", folder, "--out", tmp_path / "other", "--gentle")
    assert "The answers are not kept with the survey" in capsys.readouterr().err
    assert [main(["verify", str(signed)]) for signed in (folder, out)] == [0, 0]
    with pytest.raises(UnusableInput, match="ask a qualified harp technician"):
        run("plan", folder, "--out", tmp_path / "other", "--inspected", "a crack")
    assert read_kept(folder).answers.inspected == "a crack"  # safety before signatures


def test_doubts_about_the_whole_harp_stop_it(folder: Path, tmp_path: Path) -> None:
    doubtful = slack(doubts=(Doubt(code="another key", sentence="The strings also fit D-flat major."),))
    (folder / "survey.json").write_bytes(to_json(doubtful))
    with pytest.raises(UnusableInput, match="also fit D-flat major"):
        run("plan", folder, "--out", tmp_path / "out", "--inspected", "good")
    assert run("plan", folder, "--out", tmp_path / "out", "--inspected", "good", "--levers", "off") == 0


@pytest.mark.parametrize(
    ("more", "said"),
    [
        (("--pedals", "flat"), "has none"),
        (("--levers", "on"), "run harp-survey analyze again with --levers 'on'"),
        (("--budget", "20"), "needs a price list"),
        (("--confirm", "G2", "--replace", "G2"), "name it for one of them"),
        (("--fitted", "A3"), "write string and day"),
        (("--fitted", "A3=soon"), "not a date"),
        (("--fitted", "A3=2999-01-01"), "after the first pass"),
        (("--date", "tomorrow"), "no day"),
        (("--done", "1"), "name the earlier one"),
        (("--from", "nowhere"), "cannot be read"),
        (("--prices", "nowhere.csv"), "cannot be read"),
        (("--confirm", "Z9"), "names no string"),
    ],
)
def test_words_that_contradict_or_cannot_be_read(
    folder: Path, tmp_path: Path, more: tuple[str, ...], said: str
) -> None:
    with pytest.raises(SurveyError, match=said) as stopped:
        run("plan", folder, "--out", tmp_path / "out", *ANSWERED, *more)
    assert stopped.value.exit_code == 2
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize("words", [("--gentle", "--no-gentle"), ("--no-historical", "--historical")])
def test_yes_and_no_at_once(
    folder: Path, tmp_path: Path, words: tuple[str, str], capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as stopped:
        run("plan", folder, "--out", tmp_path / "out", *ANSWERED, *words)
    assert stopped.value.code == 2
    assert "contradict each other" in capsys.readouterr().err
    assert not (tmp_path / "out").exists()


def test_the_stop_speaks_of_measuring_only_where_strings_are_left_to_measure() -> None:
    plan = make_plan(slack(), ALL, start=START)
    assert plan.measuring
    assert "it measures how this harp gives way" in plan_page.render(plan)
    assert f"leaves {plan.measuring[0]} as it falls" in plan_page.render(replace(plan, measuring=plan.measuring[:1]))
    without = plan_page.render(replace(plan, measuring=()))
    assert "it measures how this harp gives way" not in without
    assert "it starts from where the strings then stand" in without


def test_a_pass_that_is_only_foreseen_has_nothing_to_tick() -> None:
    plan = make_plan(slack(), ALL, start=START)
    done, later = len(plan.passes[: plan.checkpoint_n]), len(plan.passes[plan.checkpoint_n :])
    page = plan_page.render(plan)
    assert (page.count("Top row first. Tick each"), page.count("Top row first.")) == (done, done + later)


def test_surveys_that_cannot_be_read(folder: Path, tmp_path: Path) -> None:
    later = json.loads((folder / "survey.json").read_bytes())
    (folder / "survey.json").write_text(json.dumps(later | {"schema": 99}), encoding="utf-8")
    with pytest.raises(UnusableInput, match="newer version"):
        run("plan", folder, "--out", tmp_path / "out", *ANSWERED)
    with pytest.raises(UnusableInput, match="name the survey"):
        run("plan", "--out", tmp_path / "out")


def test_the_next_survey_measures_how_the_harp_gave_way(folder: Path, tmp_path: Path) -> None:
    first = slack()
    (folder / "survey.json").write_bytes(to_json(first))
    run("plan", folder, "--out", tmp_path / "a", *ANSWERED)
    done = [t for t in rows(tmp_path / "a" / "plan.csv") if t["pass"] == "1"]
    # all strings were set right at the end but those to be left, which fell by 100 cents for the full load after them
    left = [t["string"] for t in done if "measures how the harp gives way" in t["remark"]]
    assert len(left) == 5
    full_n = sum(float(t["full_tension_n"]) for t in rows(tmp_path / "a" / "load.csv"))
    added = [(float(t["tension_n_after"]) - float(t["tension_n_before"])) / full_n for t in done]
    level = {
        t["string"]: float(t["end_cents"]) - (100.0 * sum(added[n:]) if t["string"] in left else 0.0)
        for n, t in enumerate(done, start=1)
    }
    second = tmp_path / "second"
    second.mkdir()
    after = replace(survey_of(LEVER, make_tuning(LEVER), level), date="2026-03-03")
    (second / "survey.json").write_bytes(to_json(after))
    assert run("plan", "--from", folder, second, "--out", tmp_path / "b", *ANSWERED) == 0
    found = read_plan(tmp_path / "b" / "plan.json").response
    assert found is not None
    assert read_kept(second).response == found  # the report plans with it too
    # a little more load than that came after each, as the others were set right
    assert 88.0 < found.cents < 100.0
    assert found.settling_cents == pytest.approx(0.0, abs=0.05)
    assert run("plan", second, "--from", folder, "--out", tmp_path / "c", *ANSWERED) == 0
    third = tmp_path / "third"
    third.mkdir()
    (third / "survey.json").write_bytes(to_json(after))
    with pytest.raises(UnusableInput, match="no plan is kept"):
        run("plan", "--from", third, second, "--out", tmp_path / "d", *ANSWERED)
    with pytest.raises(UnusableInput, match="the last plan has"):
        run("plan", "--from", folder, second, "--out", tmp_path / "d", *ANSWERED, "--done", "99")


def test_gentle_halves_the_limits() -> None:
    usual, gentle = make_plan(slack(), ALL, start=START), make_plan(slack(), replace(ALL, gentle=True), start=START)
    assert gentle.limits.turn_cents == usual.limits.turn_cents / 2
    assert gentle.limits.total_share == usual.limits.total_share / 2
    assert len(gentle.passes) >= 2 * len(usual.passes) - 1


def test_wires_and_strings_near_breaking_have_tighter_limits() -> None:
    strings = tuple(replace(s, length_mm=(s.length_mm or 0) * 1.35) if s.string == "A5" else s for s in LEVER.strings)
    layout = replace(LEVER, strings=strings)
    survey = survey_of(layout, make_tuning(layout), {s.string: -180.0 for s in strings})
    plan = make_plan(survey, ALL, start=START)
    assert plan.near_breaking == ("A5",)
    # of 2^(−180/600) = 0.812: 0.06 more are 600·log2(0.872/0.812) = 61.8 cents, 0.09 (wire) 91.1, 0.12 119.3
    first = {r.string: r.most_cents for r in plan.passes[0]}
    assert (first["A5"], first["C2"], first["C4"]) == pytest.approx((61.8, 91.1, 119.3), abs=0.2)
    assert "Close to breaking" in next(r.remark for r in plan.passes[0] if r.string == "A5")


def test_a_layout_without_figures_is_planned_by_shares() -> None:
    layout = replace(LEVER, strings=tuple(replace(s, length_mm=None) for s in LEVER.strings))
    plan = make_plan(
        survey_of(layout, make_tuning(layout), {s.string: -180.0 for s in layout.strings}), ALL, start=START
    )
    row = next(csv.DictReader(io.StringIO(plan_csv(plan))))
    assert (row["tension_n_before"], row["tension_n_after"]) == ("", "")
    # 2^(−180/600) = 0.812
    assert plan.load.whole.share == pytest.approx(0.812, abs=0.001)


def test_a_harp_in_tune_needs_nothing() -> None:
    survey = survey_of(LEVER, make_tuning(LEVER), {s.string: 1.0 for s in LEVER.strings})
    plan = make_plan(survey, ALL, start=START)
    assert plan.passes == ()
    assert plan_csv(plan).count("\n") == 1
    assert "nothing to raise" in plan_page.render(plan)


def test_replaced_and_fitted_strings() -> None:
    answers = replace(ALL, replaced=("G2",), fitted={"A3": "2026-02-27"})
    plan = make_plan(slack({"G2": {"cents": -1190.0}, "A3": GONE}), answers, start=START)
    new = {r.string: r for r in plan.passes[0] if r.kind == "install"}
    assert set(new) == {"G2", "A3"}
    assert "Take the old string off" in new["G2"].remark
    assert "New since 2026-02-27" in new["A3"].remark
    assert [p.string for p in plan.purchases if p.reason == "to be replaced"] == ["G2"]
    assert any("G2, A3" in v.what for v in plan.visits)


def test_a_string_to_be_replaced_that_was_fitted_since_is_not_bought_and_taken_off_again(
    folder: Path, tmp_path: Path
) -> None:
    run("plan", folder, "--out", tmp_path / "a", *ANSWERED, "--replace", "C4", "--date", "2026-03-10")
    run("plan", folder, "--out", tmp_path / "b", "--fitted", "C4=2026-03-09", "--date", "2026-03-10")
    new = next(t for t in rows(tmp_path / "b" / "plan.csv") if t["string"] == "C4")
    assert new["remark"].startswith("New since 2026-03-09: bring it level")
    assert "C4" not in {line["string"] for line in rows(tmp_path / "b" / "buy.csv")}
    run("plan", folder, "--out", tmp_path / "c", "--replace", "C4", "--date", "2026-03-10")  # it broke
    assert "C4" in {line["string"] for line in rows(tmp_path / "c" / "buy.csv")}


def test_what_was_heard_of_a_string_before_it_was_fitted_is_not_where_the_new_one_stands() -> None:
    for day, known in (("2026-02-27", True), ("2026-03-02", False)):  # the survey is of 2026-03-01
        plan = make_plan(slack(), replace(ALL, fitted={"C4": day}), start=START)
        first = next(r for r in plan.passes[0] if r.string == "C4")
        assert (first.from_cents is not None, first.kind == "install") == (known, not known)
        assert first.remark.startswith(f"New since {day}")


def test_the_same_plan_gives_the_same_bytes_and_comes_back(tmp_path: Path) -> None:
    plan = make_plan(slack({"A3": GONE}), ALL, start=START)
    assert plan_json(plan) == plan_json(make_plan(slack({"A3": GONE}), ALL, start=START))
    (tmp_path / "plan.json").write_bytes(plan_json(plan))
    assert read_plan(tmp_path / "plan.json") == plan
    (tmp_path / "plan.json").write_text('{"schema": 99}', encoding="utf-8")
    with pytest.raises(UnusableInput, match="newer version"):
        read_plan(tmp_path / "plan.json")


def test_the_page_has_boxes_cautions_and_no_way_out() -> None:
    survey = replace(slack({"A3": GONE}), title="<script>alert(1)</script>")
    plan = make_plan(survey, replace(ALL, inspected="worn <b>throughout</b>", advised_by="A. Maker"), start=START)
    page = plan_page.render(plan)
    assert "<script>alert" not in page
    assert "&lt;script&gt;" in page
    assert "<b>throughout" not in page
    assert page.count("☐") >= len(plan.passes[0])
    assert "default-src &#39;none&#39;" in page or "default-src 'none'" in page
    assert not re.search(r"(?:src|href)=\"(?!data:)", page)
    for words in ("Never tune a string above its note", "Follow a string", "Wear glasses", "Record all strings again"):
        assert words in page


def test_tones_follow_the_plan_to_its_stop(folder: Path, tmp_path: Path) -> None:
    run("plan", folder, "--out", tmp_path / "out", *ANSWERED)
    assert run("tones", tmp_path / "out", "--out", tmp_path / "tones") == 0
    first = [t for t in rows(tmp_path / "out" / "plan.csv") if t["pass"] == "1"]
    listed = rows(tmp_path / "tones" / "tones.csv")
    assert [(t["string"], t["to_hz"]) for t in listed] == [(t["string"], t["to_hz"]) for t in first]
    assert {p.name for p in (tmp_path / "tones").iterdir()} == {"tones.csv", "pass-1.wav"}
    run("tones", folder, "--out", tmp_path / "single", "--per", "string")
    names = [t["string"] for t in rows(tmp_path / "single" / "tones.csv")]
    assert names[0] == "C4"
    assert sorted(names) == sorted(s.string for s in LEVER.strings)
    with pytest.raises(UnusableInput, match="the plan has"):
        run("tones", tmp_path / "out", "--out", tmp_path / "none", "--pass", "99")
    with pytest.raises(UnusableInput, match="--pass needs"):
        run("tones", folder, "--out", tmp_path / "none", "--pass", "1")


def test_the_preview_says_what_to_answer_and_how_long_it_takes() -> None:
    seen = preview(slack({"A3": GONE}))
    assert seen.to_answer == ("not inspected: do not raise",)
    assert seen.passes_n == len(make_plan(slack({"A3": GONE}), ALL, start=START).passes)
    assert "not inspected" in seen.sentences[-1]
    tuned = preview(survey_of(LEVER, make_tuning(LEVER), {s.string: 0.0 for s in LEVER.strings}))
    assert (tuned.passes_n, tuned.days_n) == (0, 0)
    assert "nothing to raise" in tuned.sentences[-1]


def test_answers_prices_and_budget_from_files(folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1772445600")  # 2026-03-02T10:00:00Z
    (tmp_path / "said.json").write_text('{"inspected": "good", "confirm_all": true}', encoding="utf-8")
    (tmp_path / "prices.csv").write_text("string,price\nA3,7.25\n", encoding="utf-8")
    words = ("--answers", tmp_path / "said.json", "--prices", tmp_path / "prices.csv", "--budget", "10")
    for out in ("a", "b"):
        assert run("plan", folder, "--out", tmp_path / out, *words) == 0
    bought = rows(tmp_path / "a" / "buy.csv")
    assert [(b["string"], b["price"], b["running_total"]) for b in bought] == [("A3", "7.25", "7.25")]
    assert "In all 7.25 of 10.00" in (tmp_path / "a" / "plan.html").read_text("utf-8")
    for name in ("plan.csv", "plan.html", "plan.json", "visits.ics"):
        assert (tmp_path / "a" / name).read_bytes() == (tmp_path / "b" / name).read_bytes()
    assert b"DTSTAMP:20260302T100000Z" in (tmp_path / "a" / "visits.ics").read_bytes()


class Keyboard(io.StringIO):
    def isatty(self) -> bool:
        return True


def test_a_person_at_the_keyboard_is_asked(folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    survey = slack({"G2": {"cents": -1190.0}})
    survey = replace(survey, tuning=replace(survey.tuning, stated=(), settled_by="default"))
    (folder / "survey.json").write_bytes(to_json(survey))
    monkeypatch.setattr("sys.stdin", Keyboard("off\nE-flat\ngood\nall\n"))
    assert run("plan", folder, "--out", tmp_path / "out") == 0
    (folder / "plan-answers.json").unlink()
    monkeypatch.setattr("sys.stdin", Keyboard("off\nE-flat\n\n"))
    with pytest.raises(UnusableInput, match="not inspected"):
        run("plan", folder, "--out", tmp_path / "none")


def test_what_was_answered_at_the_keyboard_is_asked_once_though_the_rest_is_open(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Any
) -> None:
    survey = slack({"G2": {"cents": -1190.0}})
    survey = replace(survey, tuning=replace(survey.tuning, stated=(), settled_by="default"))
    (folder / "survey.json").write_bytes(to_json(survey))
    words = ("plan", folder, "--out", tmp_path / "out")
    for typed, still_open in (("off\nE-flat\ngood\n\n", "not confirmed by hand: G2"), ("C9\n", "not on this harp")):
        monkeypatch.setattr("sys.stdin", Keyboard(typed))
        with pytest.raises(UnusableInput, match=still_open):
            run(*words)
        assert "What was answered is kept" in capsys.readouterr().err
        assert not (tmp_path / "out").exists()
        assert _kept(folder).answers == Answers(levers="off", key="E-flat", inspected="good")
        assert _kept(folder).turns == ()
    later = tmp_path / "later"
    later.mkdir()
    (later / "survey.json").write_bytes(to_json(survey))
    with pytest.raises(UnusableInput, match="no plan is kept"):  # what was done since the answers, nobody knows
        run("plan", "--from", folder, later, "--out", tmp_path / "out", *ANSWERED, "--tuning", "E-flat")
    monkeypatch.setattr("sys.stdin", Keyboard("all\n"))
    assert run(*words) == 0


def test_an_answer_at_the_keyboard_that_contradicts_the_survey_is_not_kept(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    survey = slack()
    (folder / "survey.json").write_bytes(
        to_json(replace(survey, tuning=replace(survey.tuning, stated=("key",), settled_by="default")))
    )
    monkeypatch.setattr("sys.stdin", Keyboard("on\n"))
    with pytest.raises(UnusableInput, match="run harp-survey analyze again"):
        run("plan", folder, "--out", tmp_path / "out")
    assert [p.name for p in folder.iterdir()] == ["survey.json"]


def test_a_finding_at_the_keyboard_is_kept_with_the_other_answers(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    survey = slack()
    survey = replace(survey, tuning=replace(survey.tuning, stated=("key",), settled_by="default"))
    (folder / "survey.json").write_bytes(to_json(survey))
    monkeypatch.setattr("sys.stdin", Keyboard("off\na crack\n\n"))
    with pytest.raises(UnusableInput, match="a crack"):
        run("plan", folder, "--out", tmp_path / "out")
    assert _kept(folder).answers == Answers(levers="off", inspected="a crack")


def test_at_the_keyboard_a_doubt_is_put_before_the_setting_that_settles_it(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: Any
) -> None:
    survey = slack(doubts=(Doubt(code="raised strings", sentence="C4 stands above: is its lever engaged?"),))
    survey = replace(survey, tuning=replace(survey.tuning, stated=(), settled_by="default"))
    (folder / "survey.json").write_bytes(to_json(survey))
    monkeypatch.setattr("sys.stdin", Keyboard("off\nE-flat\ngood\n"))
    assert run("plan", folder, "--out", tmp_path / "out") == 0
    asked = capsys.readouterr().err
    assert "C4 stands above: is its lever engaged?" in asked.split("> ")[0]
    assert asked.count("What were the levers") == 1


def test_good_is_nobodys_name(folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (folder / "survey.json").write_bytes(to_json(slack()))
    monkeypatch.setattr("sys.stdin", Keyboard("a crack\ngood\n\n"))
    with pytest.raises(UnusableInput, match="do not raise"):
        run("plan", folder, "--out", tmp_path / "out", "--levers", "off")


def test_the_work_order_speaks_german_down_to_the_calendar(folder: Path, tmp_path: Path, capsys: Any) -> None:
    run("plan", folder, "--out", tmp_path / "out", "--language", "de", *ANSWERED)
    calendar = (tmp_path / "out" / "visits.ics").read_text("utf-8").replace("\r\n ", "")
    assert "SUMMARY:Harfe: Durchgang 1" in calendar
    assert not re.search(r"^(?:SUMMARY|DESCRIPTION):.*\b(?:pass|Tune|tune|strings)\b", calendar, re.M)
    assert "Zum Arbeiten: " in capsys.readouterr().err


def _kept(folder: Path) -> Kept:
    kept = read_kept(folder)
    assert kept is not None
    return kept


def test_a_crack_once_reported_is_not_forgotten_and_takes_the_work_order_back(
    folder: Path, tmp_path: Path, capsys: Any
) -> None:
    out = tmp_path / "out"
    run("plan", folder, "--out", out, *ANSWERED)
    (out / "mine.txt").write_text("kept", "utf-8")
    turns = _kept(folder).turns
    capsys.readouterr()
    with pytest.raises(UnusableInput, match="a crack in the neck"):
        run("plan", folder, "--out", out, "--inspected", "a crack in the neck")
    assert {p.name for p in out.iterdir()} == {"plan.html", "load.csv", "buy.csv", "mine.txt"}
    page = (out / "plan.html").read_text("utf-8")
    assert "Work order withdrawn" in page
    assert "a crack in the neck" in page
    assert "Pass 1" not in page
    assert "withdrawn: " in capsys.readouterr().err
    for words in ((), ("--confirm", "all"), ("--levers", "off")):
        with pytest.raises(UnusableInput, match="a crack in the neck"):
            run("plan", folder, "--out", out, *words)
    assert _kept(folder).turns == turns  # some of them may have been done
    assert run("plan", folder, "--out", out, "--advised-by", "A. Tester") == 0
    assert "Pass 1" in (out / "plan.html").read_text("utf-8")


def test_a_plan_alters_nothing_that_was_signed_and_a_finding_does_and_says_so(
    folder: Path, tmp_path: Path, capsys: Any
) -> None:
    run("plan", folder, "--out", folder / "plan", *ANSWERED)
    assert main(["sign", str(folder), "--by", "A. Tester"]) == 0
    with pytest.raises(UnusableInput, match=r"signed by A. Tester, and new files would undo that"):
        run("plan", folder, "--out", folder / "plan")
    assert run("plan", folder, "--out", tmp_path / "out") == 0  # the answers are those that were signed
    assert run("tones", folder / "plan", "--out", folder / "tones") == 0  # beside what was signed
    assert main(["verify", str(folder)]) == 0
    capsys.readouterr()
    with pytest.raises(UnusableInput, match="a crack in the neck"):
        run("plan", folder, "--out", folder / "plan", "--inspected", "a crack in the neck")
    assert "what A. Tester signed here was altered by this finding: have it signed again." in capsys.readouterr().err
    assert main(["verify", str(folder)]) == 2


def test_a_finding_that_takes_back_a_signed_work_order_says_so(folder: Path, tmp_path: Path, capsys: Any) -> None:
    out = tmp_path / "out"
    run("plan", folder, "--out", out, *ANSWERED)
    assert main(["sign", str(out), "--by", "A. Tester"]) == 0
    capsys.readouterr()
    with pytest.raises(UnusableInput, match="a crack in the neck"):
        run("plan", folder, "--out", out, "--inspected", "a crack in the neck")
    said = capsys.readouterr().err
    assert f"{out}: what A. Tester signed here was altered by this finding: have it signed again." in said
    assert said.count("signed again") == 1
    assert not (out / "plan.csv").exists()


def test_a_finding_is_kept_though_other_words_are_wrong_and_no_plan_was_made(folder: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    with pytest.raises(UnusableInput, match="measured against"):
        run("plan", folder, "--out", out, "--inspected", "belly lifting", "--levers", "F4")
    assert not out.exists()
    assert _kept(folder).answers == Answers(inspected="belly lifting")


def test_who_agreed_before_has_not_agreed_to_what_was_found_since(folder: Path, tmp_path: Path) -> None:
    words = ("plan", folder, "--out", tmp_path / "out")
    assert run(*words, *ANSWERED, "--advised-by", "A. Tester") == 0
    with pytest.raises(UnusableInput, match="a crack"):
        run(*words, "--inspected", "a crack")
