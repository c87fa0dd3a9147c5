"""A harp's record: nothing lost, nothing half-written, whatever stops the program, and old forms read for ever."""

import random
import shutil
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import pytest

from analyzer import record
from analyzer.errors import UnusableInput
from analyzer.record import About, Entry
from analyzer.survey import read_survey, to_json
from tests.survey_moves import plain

ROOT = Path(__file__).parent.parent
OLD = Path(__file__).parents[1] / "fixtures" / "records" / "schema-1"


def survey_folder(home: Path, title: str = "A harp") -> Path:
    home.mkdir(parents=True)
    (home / "survey.json").write_bytes(to_json(replace(plain(), title=title)))
    (home / "report.html").write_text(title * 20_000, "utf-8")
    (home / "clips").mkdir()
    (home / "clips" / "C4.ogg").write_bytes(b"sound")
    return home


def test_a_survey_goes_in_with_all_its_files_and_comes_out_as_it_was(tmp_path):
    source = survey_folder(tmp_path / "survey")
    added = record.add(
        tmp_path / "harp", Entry(date="", who="me", photos=("neck.jpg",)), survey=source, about=About(serial="S 1")
    )
    assert added.id == "2026-03-01-001"
    (entry,) = record.entries(tmp_path / "harp")
    assert entry == added
    assert set(entry.files) == {"survey.json", "report.html", "clips/C4.ogg"}
    kept = record.survey_folder(tmp_path / "harp", entry)
    assert read_survey(kept) == plain_titled("A harp")
    assert (kept / "clips" / "C4.ogg").read_bytes() == b"sound"
    assert record.read_about(tmp_path / "harp") == About(serial="S 1")
    assert record.damaged(tmp_path / "harp") == ()


def test_recordings_of_one_name_each_keep_their_hash(tmp_path):
    info = plain().recordings[0]  # bass/Recording.m4a treble/Recording.m4a
    parts = tuple(replace(info, name="Recording.m4a", sha256=digit * 64) for digit in "12")
    (tmp_path / "survey.json").write_bytes(to_json(replace(plain(), recordings=parts)))
    added = record.add(tmp_path / "harp", Entry(date=""), survey=tmp_path / "survey.json")
    assert added.recordings == {"Recording.m4a": "1" * 64, "Recording.m4a (2)": "2" * 64}


def plain_titled(title: str):
    return replace(plain(), title=title)


def test_entries_of_a_day_are_numbered_and_listed_by_day(tmp_path):
    for date in ("2026-03-02", "2026-03-01", "2026-03-02"):
        record.add(tmp_path, Entry(date=date))
    assert [e.id for e in record.entries(tmp_path)] == ["2026-03-01-001", "2026-03-02-001", "2026-03-02-002"]


def test_what_is_known_of_the_harp_is_added_to_and_not_emptied(tmp_path):
    record.add(tmp_path, Entry(date="2026-03-01"), about=About(instrument="lever harp", serial="1"))
    record.add(tmp_path, Entry(date="2026-03-02"), about=About(asset="A 7", serial="2"))
    assert record.read_about(tmp_path) == About(instrument="lever harp", serial="2", asset="A 7")


def test_the_same_survey_twice_is_refused(tmp_path):
    source = survey_folder(tmp_path / "survey")
    record.add(tmp_path / "harp", Entry(date=""), survey=source)
    with pytest.raises(UnusableInput, match="already, as 2026-03-01-001"):
        record.add(tmp_path / "harp", Entry(date="2026-04-01"), survey=source)
    assert len(record.entries(tmp_path / "harp")) == 1


def test_a_folder_of_other_things_is_left_alone(tmp_path):
    (tmp_path / "letter.txt").write_text("dear", "utf-8")
    with pytest.raises(UnusableInput, match="no harp's record"):
        record.add(tmp_path, Entry(date="2026-03-01"))
    assert [p.name for p in tmp_path.iterdir()] == ["letter.txt"]


def test_a_survey_that_cannot_be_read_leaves_the_record_as_it_was(tmp_path):
    record.add(tmp_path / "harp", Entry(date="2026-03-01"))
    bad = tmp_path / "bad"
    bad.mkdir()
    (bad / "survey.json").write_text("{}", "utf-8")
    with pytest.raises(UnusableInput, match="not a survey"):
        record.add(tmp_path / "harp", Entry(date="2026-03-02"), survey=bad)
    assert [e.id for e in record.entries(tmp_path / "harp")] == ["2026-03-01-001"]


@pytest.mark.skipif(sys.platform == "win32", reason="making links takes rights on Windows")
def test_links_out_of_the_folder_are_not_followed(tmp_path):
    source = survey_folder(tmp_path / "survey")
    (tmp_path / "secret.txt").write_text("mine", "utf-8")
    (source / "link.txt").symlink_to(tmp_path / "secret.txt")
    assert "link.txt" not in record.add(tmp_path / "harp", Entry(date=""), survey=source).files


def test_a_damaged_file_is_named(tmp_path):
    added = record.add(tmp_path / "harp", Entry(date=""), survey=survey_folder(tmp_path / "survey"))
    kept = record.survey_folder(tmp_path / "harp", added)
    (kept / "report.html").write_text("other", "utf-8")
    (kept / "clips" / "C4.ogg").unlink()
    assert record.damaged(tmp_path / "harp") == (
        "2026-03-01-001: clips/C4.ogg is missing.",
        "2026-03-01-001: report.html is not what was put in.",
    )


def test_the_first_schema_is_read_and_added_to(tmp_path):
    shutil.copytree(OLD, tmp_path / "old")
    (entry,) = record.entries(tmp_path / "old")
    assert (entry.done, entry.humidity_percent, entry.photos) == ("two strings fitted, tuned", 44.0, ("neck.jpg",))
    assert record.add(tmp_path / "old", Entry(date="2026-03-01")).id == "2026-03-01-002"


def test_an_older_schema_is_brought_up_step_by_step(tmp_path, monkeypatch):
    shutil.copytree(OLD, tmp_path / "old")
    monkeypatch.setattr(record, "SCHEMA", 3)
    monkeypatch.setattr(
        record,
        "_MIGRATIONS",
        {1: lambda v: {**v, "who": v["who"] + "!"} if "who" in v else v, 2: lambda v: {**v, "done": "x"}},
    )
    (entry,) = record.entries(tmp_path / "old")
    assert (entry.schema, entry.who, entry.done) == (3, "a technician!", "x")


def test_a_later_schema_is_refused_with_what_to_do(tmp_path):
    record.add(tmp_path, Entry(date="2026-03-01"))
    (tmp_path / "record.json").write_text('{"schema": 99}', "utf-8")
    with pytest.raises(UnusableInput, match="install the newer"):
        record.read_about(tmp_path)


def surveys_to_add(home: Path, date: str, number: int) -> None:
    for k in range(number):
        survey_folder(home / f"{date}-{k}", title=f"{date} {k}")


def writer(folder: Path, surveys: Path, date: str, number: int) -> "subprocess.Popen[str]":
    command = [sys.executable, "-m", "tests.record_writer", str(folder), str(surveys), date, str(number)]
    return subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, text=True)


def test_two_programs_at_once_lose_nothing(tmp_path):
    for date in ("2026-03-01", "2026-03-02"):
        surveys_to_add(tmp_path / "surveys", date, 6)
    running = [writer(tmp_path / "harp", tmp_path / "surveys", date, 6) for date in ("2026-03-01", "2026-03-02")]
    assert [process.wait(120) for process in running] == [0, 0]
    for process in running:
        process.stdout.close()
    assert len(record.entries(tmp_path / "harp")) == 12
    assert record.damaged(tmp_path / "harp") == ()


def kill_at_random_moments(tmp_path: Path, times: int, seed: int) -> None:
    """What was said to be in is in, and all that is in is whole."""
    rng = random.Random(seed)
    folder, safe = tmp_path / "harp", set()
    stopped_within = 0
    for k in range(times):
        date = f"{2000 + k // 300}-{1 + k // 28 % 12:02d}-{1 + k % 28:02d}"
        surveys_to_add(tmp_path / "surveys", date, 4)
        process = writer(folder, tmp_path / "surveys", date, 4)
        first = process.stdout.readline()  # it has begun to write
        time.sleep(rng.uniform(0, 0.06))
        process.kill()
        rest = process.stdout.read().split()
        process.stdout.close()
        stopped_within += process.wait() != 0
        safe.update(line for line in [first.strip(), *rest] if line)
        shutil.rmtree(tmp_path / "surveys")
        assert safe <= {entry.id for entry in record.entries(folder)}
        assert record.damaged(folder) == ()
    assert stopped_within > times / 3  # else nothing was tested
    record.add(folder, Entry(date="2099-01-01"))  # and it can go on
    assert not list(folder.glob(".incoming-*"))


def test_killing_the_writer_loses_nothing(tmp_path):
    kill_at_random_moments(tmp_path, 6, seed=1)


@pytest.mark.long
def test_killing_the_writer_two_hundred_times_loses_nothing(tmp_path):
    kill_at_random_moments(tmp_path, 200, seed=2)
