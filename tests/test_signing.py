"""What was signed, against what lies there."""

import hashlib
import json

import pytest

from analyzer.cli import main
from analyzer.cli.analyze import write
from analyzer.errors import UnusableInput
from analyzer.record import Entry, add
from analyzer.signing import SIGNED, check_unsigned, sha256, sign, verify
from analyzer.writing import write_files
from tests.survey_moves import plain

FILES = {"report.html": "<p>fine", "figures/a.svg": b"<svg/>"}


@pytest.fixture
def folder(tmp_path):
    recording = tmp_path / "harp.flac"
    recording.write_bytes(b"sound")
    content = sign(
        FILES,
        technician="A. Tester",
        date="2026-03-01",
        instrument="lever harp",
        recordings={sha256(b"sound"): "x.flac"},
    )
    write_files(tmp_path / "report", {**FILES, SIGNED: content})
    return tmp_path


def test_sha256_is_that_of_the_standard():
    # FIPS 180-4 example, "abc"
    assert sha256("abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"


def test_an_untouched_folder_and_its_recording_match(folder):
    found = verify(folder / "report", [folder / "harp.flac"])
    assert found.problems == ()
    assert set(found.matching) == {*FILES, "harp.flac"}
    assert found.sha256 == hashlib.sha256((folder / "report" / SIGNED).read_bytes()).hexdigest()
    assert found.signed.technician == "A. Tester"


def test_what_is_no_file_cannot_be_checked(folder):
    with pytest.raises(UnusableInput, match="no such file"):
        verify(folder / "report", [folder])


def test_a_list_of_a_later_version_is_refused_whatever_its_form(folder):
    (folder / "report" / SIGNED).write_text('{"schema": 2, "sealed": []}', "utf-8")
    with pytest.raises(UnusableInput, match=r"newer version \(schema 2, this program reads up to 1"):
        verify(folder / "report")


def test_what_was_altered_removed_or_belongs_to_another_is_named(folder):
    (folder / "report" / "report.html").write_text("<p>better", "utf-8")
    (folder / "report" / "figures" / "a.svg").unlink()
    (folder / "report" / "new.txt").write_text("more", "utf-8")
    (folder / "other.flac").write_bytes(b"another sound")
    found = verify(folder / "report", [folder / "other.flac"])
    assert [problem.split(":")[0] for problem in found.problems] == ["report.html", "figures/a.svg", "other.flac"]
    assert found.beside == ("new.txt",)


def test_a_list_cannot_reach_out_of_its_folder(folder):
    path = folder / "report" / SIGNED
    values = json.loads(path.read_bytes())
    values["files"]["../harp.flac"] = sha256(b"sound")
    path.write_text(json.dumps(values), "utf-8")
    assert any("../harp.flac" in problem for problem in verify(folder / "report").problems)


@pytest.mark.parametrize(
    "content", [None, b"{", b'{"schema": 9, "technician":"","date":"","instrument":"","files":{}}']
)
def test_without_a_list_that_can_be_read_there_is_nothing_to_check_by(tmp_path, content):
    if content is not None:
        (tmp_path / SIGNED).write_bytes(content)
    with pytest.raises(UnusableInput):
        verify(tmp_path)


def test_a_record_is_sent_to_its_own_check(tmp_path):
    add(tmp_path, Entry(who="A. Tester", date="2026-03-01"))
    with pytest.raises(UnusableInput, match="record show"):
        verify(tmp_path)


def test_analyze_lists_what_it_leaves_with_the_recording_behind_it(tmp_path):
    survey = plain()
    write(survey, tmp_path)
    found = verify(tmp_path)
    assert found.problems == ()
    assert found.beside == ()
    assert found.signed.technician == ""
    assert found.signed.recordings == {info.sha256: info.name for info in survey.recordings}
    (tmp_path / "strings.csv").write_text("else", "utf-8")
    assert [problem.split(":")[0] for problem in verify(tmp_path).problems] == ["strings.csv"]


def test_a_signature_keeps_what_the_list_knew_of_recordings_and_says_how_it_can_be_trusted(folder, capsys):
    assert main(["sign", str(folder / "report"), "--by", "B. Tester"]) == 0
    told = capsys.readouterr().err
    found = verify(folder / "report", [folder / "harp.flac"])
    assert (found.problems, found.signed.technician, found.signed.instrument) == ((), "B. Tester", "lever harp")
    assert found.sha256 in told
    assert main(["verify", str(folder / "report"), str(folder / "harp.flac")]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[:2] == ["2 files are as they were signed by B. Tester.", "harp.flac: this report was made from it."]
    assert "B. Tester gives you" in lines[-1]


def test_a_folder_that_was_signed_with_the_one_it_lies_in_is_not_written_over(folder):
    report = folder / "report"
    with pytest.raises(UnusableInput, match=r"signed by A\. Tester"):
        check_unsigned(report)
    with pytest.raises(UnusableInput, match=r"report: signed by A\. Tester"):
        check_unsigned(report / "figures")
    check_unsigned(report / "answer")  # beside what was signed
    check_unsigned(folder)


@pytest.mark.parametrize("name", ["", "  "])
def test_nobody_signs_without_a_name(folder, capsys, name):
    before = (folder / "report" / SIGNED).read_bytes()
    assert main(["sign", str(folder / "report"), "--by", name]) == 2
    assert "give the name of the technician" in capsys.readouterr().err
    assert (folder / "report" / SIGNED).read_bytes() == before


def test_a_folder_without_a_report_is_not_signed(folder, capsys):
    assert main(["sign", str(folder), "--by", "B. Tester"]) == 2
    assert "there is no report in it to sign" in capsys.readouterr().err
    assert not (folder / SIGNED).exists()
