"""A survey's report made once more, and every page in the language asked for, from the command line."""

import hashlib
import re
from dataclasses import replace

import pypdf
import pytest

from analyzer.answers import KEPT_FILE, kept_json
from analyzer.cli import main
from analyzer.survey import Doubt, to_json
from tests.example_recording import write_example_recording
from tests.survey_moves import moved
from tests.test_translation import kept_with, planned


@pytest.fixture
def home(tmp_path):
    folder = tmp_path / "harp"
    folder.mkdir()
    survey, _ = planned()
    (folder / "survey.json").write_bytes(to_json(survey))
    return folder


def test_the_report_gets_its_passes_once_the_answers_are_kept(home, capsys):
    survey, answers = planned()
    assert main(["report", str(home)]) == 0
    before = (home / "report.html").read_text("utf-8")
    (home / KEPT_FILE).write_bytes(kept_json(kept_with(survey, answers)))
    assert main(["report", str(home), "--pdf"]) == 0
    after = (home / "report.html").read_text("utf-8")
    assert "No plan yet" in before
    assert "Pass 1" not in before
    assert "No plan yet" not in after
    assert "Pass 1" in after
    assert "Pass 1" in "".join(page.extract_text() for page in pypdf.PdfReader(home / "report.pdf").pages)
    assert capsys.readouterr().err.count("The page to open: ") == 2


def test_a_signed_report_is_not_written_again_over_its_signature(home, tmp_path, capsys):
    assert main(["report", str(home), "--pdf"]) == 0
    assert main(["sign", str(home), "--by", "A. Tester"]) == 0
    signed = (home / "signed.json").read_bytes()
    assert main(["report", str(home)]) == 2
    assert "signed by A. Tester, and new files would undo that" in capsys.readouterr().err
    assert (home / "signed.json").read_bytes() == signed
    assert main(["verify", str(home)]) == 0
    assert main(["report", str(home), "--out", str(tmp_path / "again")]) == 0


def test_a_pdf_that_lies_there_is_made_again_with_its_report(home, capsys):
    assert main(["report", str(home), "--pdf"]) == 0
    (home / "report.pdf").write_bytes(b"old")
    assert main(["report", str(home)]) == 0
    assert (home / "report.pdf").read_bytes().startswith(b"%PDF")
    assert main(["verify", str(home)]) == 0
    assert "Not part of" not in capsys.readouterr().out


def test_answers_that_cannot_be_read_leave_a_report_without_a_plan_and_say_so(home, capsys):
    (home / KEPT_FILE).write_text("{", "utf-8")
    assert main(["report", str(home)]) == 0
    assert "No plan yet" in (home / "report.html").read_text("utf-8")
    assert "The report has no plan: " in capsys.readouterr().err


def test_another_folder_takes_the_report_and_leaves_the_first_alone(home, tmp_path):
    assert main(["report", str(home), "--out", str(tmp_path / "again"), "--language", "de"]) == 0
    assert '<html lang="de">' in (tmp_path / "again" / "report.html").read_text("utf-8")
    assert not (home / "report.html").exists()


def test_only_the_surveys_own_recordings_are_listened_to(home, tmp_path, capsys):
    survey, _ = planned()
    recording = write_example_recording(tmp_path / "attic.flac", survey)
    assert main(["report", str(home), str(recording)]) == 2
    assert "was not made from this recording" in capsys.readouterr().err
    sha256 = hashlib.sha256(recording.read_bytes()).hexdigest()
    own = replace(survey, recordings=(replace(survey.recordings[0], sha256=sha256),))
    (home / "survey.json").write_bytes(to_json(own))
    assert main(["report", str(home), str(recording)]) == 0
    assert main(["report", str(home), str(tmp_path / "gone.flac")]) == 2
    assert "cannot be opened" in capsys.readouterr().err


def test_every_page_speaks_german(home, tmp_path, capsys):
    survey, _ = planned()
    later = tmp_path / "later"
    later.mkdir()
    (later / "survey.json").write_bytes(to_json(moved(survey, lambda i, row: row.cents + 50.0, date="2026-04-01")))
    german = ["--language", "de"]
    answered = ["--inspected", "good", "--confirm", "all", "--date", "2026-03-02"]
    runs = {
        "plan.html": ["plan", str(home), *answered],
        "compare.html": ["compare", str(home), str(later)],
        "reply.html": ["reply", str(home)],
    }
    for page, words in runs.items():
        out = tmp_path / page.removesuffix(".html")
        assert main([*words, "--out", str(out), *german]) == 0, capsys.readouterr().err
        text = (out / page).read_text("utf-8")
        assert '<html lang="de">' in text
        assert not re.findall(r"lang=\"en\">[^<]*", text)
        assert "Saite" in capsys.readouterr().err


def test_a_doubt_that_was_answered_is_no_question_on_the_page_any_more(home, capsys):
    survey, _ = planned()
    doubt = Doubt(code="semitone", sentence="The harp may be set otherwise.")
    (home / "survey.json").write_bytes(to_json(replace(survey, doubts=(doubt,))))
    answered = ["--inspected", "good", "--confirm", "all"]
    assert main(["plan", str(home), "--out", str(home / "plan"), *answered]) == 2
    assert main(["report", str(home)]) == 0
    assert "Settle the question below" in (home / "report.html").read_text("utf-8")
    assert main(["plan", str(home), "--out", str(home / "plan"), *answered, "--levers", "off"]) == 0
    assert main(["report", str(home)]) == 0
    page = (home / "report.html").read_text("utf-8")
    assert "Settle the question below" not in page
    assert "Settled by what was said to the plan: The harp may be set otherwise." in page
    assert "The harp may be set otherwise." in (home / "survey.json").read_text("utf-8")


def test_a_withdrawn_work_order_speaks_german(home, tmp_path, capsys):
    answered = ["plan", str(home), "--out", str(tmp_path / "plan"), "--language", "de"]
    assert main([*answered, "--inspected", "gut", "--confirm", "all", "--date", "2026-03-02"]) == 0
    capsys.readouterr()
    assert main([*answered, "--inspected", "ein Riss im Hals"]) == 2
    page = (tmp_path / "plan" / "plan.html").read_text("utf-8")
    assert "ein Riss im Hals" in page
    for text in (page.split("<body>")[1], capsys.readouterr().err.replace("harp-survey", "")):
        assert not re.findall(r"\b(?:withdrawn|work|turn|pin|technician|found|order)\b", text)
