"""Files are written whole or not at all, whatever fails on the way."""

import errno
import os
import subprocess
import sys
from pathlib import Path

import pytest

from analyzer.errors import UnusableInput
from analyzer.writing import sweep, write_files

FILES = {"strings.csv": "string\n", "figures/deviation.png": b"\x89PNG", "report.html": "E♭2"}


def everything(folder):
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def fail_at(monkeypatch, owner, name, number, error):
    """The `number`-th call of owner.name fails with this error."""
    real, calls = getattr(owner, name), []

    def failing(*args, **kwargs):
        calls.append(args)
        if len(calls) == number:
            raise error
        return real(*args, **kwargs)

    monkeypatch.setattr(owner, name, failing)


def test_a_new_folder_gets_all_files_and_nothing_else(tmp_path):
    write_files(tmp_path / "a" / "out", FILES)
    assert everything(tmp_path) == {
        "a/out/strings.csv": b"string\n",
        "a/out/figures/deviation.png": b"\x89PNG",
        "a/out/report.html": "E♭2".encode(),
    }


def test_files_are_replaced_and_others_left_alone(tmp_path):
    (tmp_path / "notes.txt").write_text("mine")
    (tmp_path / "report.html").write_text("old")
    write_files(tmp_path, FILES)
    assert everything(tmp_path).keys() == {*FILES, "notes.txt"}
    assert (tmp_path / "report.html").read_text("utf-8") == "E♭2"


@pytest.mark.skipif(os.name == "nt", reason="folders have no permission bits there")
def test_the_folder_is_as_open_as_any_other_new_one(tmp_path):
    (tmp_path / "usual").mkdir()
    write_files(tmp_path / "out", FILES)
    assert (tmp_path / "out").stat().st_mode == (tmp_path / "usual").stat().st_mode


@pytest.mark.parametrize(
    ("number", "words"),
    [(errno.ENOSPC, "disk is full"), (errno.EACCES, "not permitted"), (errno.EROFS, "only be read")],
)
def test_a_full_or_closed_disk_is_one_sentence_and_leaves_things_as_they_were(tmp_path, monkeypatch, number, words):
    (tmp_path / "report.html").write_text("old")
    before = everything(tmp_path)
    fail_at(monkeypatch, os, "fsync", 2, OSError(number, os.strerror(number)))
    with pytest.raises(UnusableInput, match=words) as caught:
        write_files(tmp_path, FILES)
    assert str(caught.value).count("\n") == 0
    assert everything(tmp_path) == before
    assert [p.name for p in tmp_path.iterdir()] == ["report.html"]


def test_a_failure_in_a_new_place_leaves_no_folder_behind(tmp_path, monkeypatch):
    fail_at(monkeypatch, os, "fsync", 3, OSError(errno.ENOSPC, "full"))
    with pytest.raises(UnusableInput):
        write_files(tmp_path / "a" / "b" / "out", FILES)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("number", range(1, 6))
@pytest.mark.parametrize("error", [OSError(errno.EACCES, "open elsewhere"), KeyboardInterrupt()])
def test_a_failure_while_moving_in_undoes_what_was_moved(tmp_path, monkeypatch, number, error):
    (tmp_path / "strings.csv").write_text("old strings")
    (tmp_path / "report.html").write_text("old report")
    before = everything(tmp_path)
    with monkeypatch.context() as patch:
        fail_at(patch, Path, "replace", number, error)
        with pytest.raises((UnusableInput, KeyboardInterrupt)):
            write_files(tmp_path, FILES)
    assert everything(tmp_path) == before
    assert not (tmp_path / "figures").exists()


def test_a_file_in_the_way_is_named(tmp_path):
    (tmp_path / "out").write_text("a file")
    with pytest.raises(UnusableInput, match="there is a file of that name"):
        write_files(tmp_path / "out", FILES)
    with pytest.raises(UnusableInput, match="the results cannot be written"):
        write_files(tmp_path / "out" / "deeper", FILES)
    assert everything(tmp_path) == {"out": b"a file"}


DYING = """
import os, sys
from pathlib import Path
from analyzer import writing
writing._write = lambda path, content: os._exit(9)
writing.write_files(Path(sys.argv[1]), {"strings.csv": "string"})
"""


@pytest.mark.parametrize("there", [True, False])
def test_what_a_killed_program_left_is_swept_away_and_nothing_else(tmp_path, there):
    mine, others = tmp_path / "all" / "harp", tmp_path / "all" / "harp-2"
    mine.parent.mkdir()
    if there:
        write_files(mine, FILES)
    for folder in (mine, others):
        assert subprocess.run([sys.executable, "-c", DYING, str(folder)], cwd=Path(__file__).parents[1]).returncode == 9
    assert len(list(tmp_path.rglob(".harp-survey-*"))) == 2
    sweep(mine)
    assert len(list(tmp_path.rglob(".harp-survey-*"))) == 1
    assert not there or everything(mine) == {n: c.encode() if isinstance(c, str) else c for n, c in FILES.items()}
    sweep(others)
    assert not list(tmp_path.rglob(".harp-survey-*"))
