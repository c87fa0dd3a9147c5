"""A reader that goes away ends the program without a word, as the Python documentation's note on SIGPIPE has it."""

import errno
import os
import subprocess
import sys
from pathlib import Path

import pytest

from analyzer import record
from analyzer.cli import outlet
from analyzer.record import Entry

ROOT = Path(__file__).parents[1]


def left_by_reader(words, closed):
    """Exit code of a command of which `closed` ("stdout" or "stderr") is a pipe that nobody reads, and what it said
    on the other one."""
    reading, writing = os.pipe()
    os.close(reading)
    try:
        other = "stderr" if closed == "stdout" else "stdout"
        streams = {closed: writing, other: subprocess.PIPE}
        done = subprocess.run([sys.executable, *words], cwd=ROOT, check=False, text=True, encoding="utf-8", **streams)
    finally:
        os.close(writing)
    return done.returncode, getattr(done, other)


@pytest.fixture
def harp_record(tmp_path):
    for day in range(1, 4):
        record.add(tmp_path, Entry(date=f"2026-03-0{day}", done="brought up"))
    return tmp_path


@pytest.mark.parametrize(
    "words", [("record", "list", "{record}"), ("record", "show", "{record}"), ("layouts",), ("--version",)]
)
def test_a_table_that_nobody_reads_ends_quietly(words, harp_record):
    words = ["-m", "analyzer", *(word.format(record=harp_record) for word in words)]
    assert left_by_reader(words, "stdout") == (outlet.CLOSED_CODE, "")


def test_help_that_nobody_reads_ends_quietly():
    """argparse may swallow the failure, and then all went well; it must not come back when Python ends (120)."""
    code, said = left_by_reader(["-m", "analyzer", "--help"], "stdout")
    assert code in (0, outlet.CLOSED_CODE)
    assert said == ""


def test_a_table_longer_than_a_pipe_ends_quietly(tmp_path):
    """A line of a note fills any pipe's buffer, so that it is the writing that fails and not the end."""
    record.add(tmp_path, Entry(date="2026-03-01", done="x" * 300_000))
    assert left_by_reader(["-m", "analyzer", "record", "list", str(tmp_path)], "stdout") == (outlet.CLOSED_CODE, "")


def test_an_error_that_nobody_reads_ends_quietly(tmp_path):
    words = ["-m", "analyzer", "record", "list", str(tmp_path / "none")]
    assert left_by_reader(words, "stderr") == (outlet.CLOSED_CODE, "")


def test_progress_that_nobody_reads_ends_quietly():
    code = "\n".join(
        (
            "import sys",
            "from analyzer.cli import outlet",
            "from rich.console import Console",
            "def run():",
            "    with Console(stderr=True, force_terminal=True).status('listening'): return 0",
            "sys.exit(outlet.until_closed(run))",
        )
    )
    assert left_by_reader(["-c", code], "stderr") == (outlet.CLOSED_CODE, "")


@pytest.mark.skipif(os.name == "nt", reason="a shell's >&-")
def test_a_program_started_without_output_runs():
    words = [sys.executable, "-m", "analyzer", "layouts"]
    done = subprocess.run(
        ["sh", "-c", 'exec "$@" >&-', "sh", *words], cwd=ROOT, check=False, capture_output=True, text=True
    )
    assert (done.returncode, done.stderr) == (0, "")


def test_other_failures_of_the_system_stay_what_they_are(monkeypatch):
    assert not outlet.is_closed_pipe(OSError(errno.ENOSPC, "No space left on device"))
    assert not outlet.is_closed_pipe(FileNotFoundError(errno.ENOENT, "No such file", "x.wav"))
    monkeypatch.setattr(outlet.os, "name", "nt")
    assert outlet.is_closed_pipe(OSError(errno.EINVAL, "Invalid argument"))
    assert not outlet.is_closed_pipe(OSError(errno.EINVAL, "Invalid argument", "x:y"))
