"""Broken and hostile input ends in a result or one sentence with exit 2 or 3; nothing is written elsewhere."""

import contextlib
import os
import struct
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import soundfile

from analyzer.cli import main
from analyzer.errors import SurveyError
from tests import fuzz
from tests.tiny_harps import write_layout, write_recording

ROOT = Path(__file__).parents[1]
COMMAND = f"import sys; sys.path.insert(0, {str(ROOT)!r}); from analyzer.cli import main; sys.exit(main(sys.argv[1:]))"
REGRESSIONS: dict[str, tuple[str, bytes]] = {
    "JSON that is not UTF-8": ("survey.json", b'{"schema": 1, "title": "\xf8"}'),
    "JSON nested without end": ("survey.json", b'{"schema":' + b"[" * 100_000),
    "answers that are not UTF-8": ("answers.json", b'{"inspected": "\xff"}'),
    "a record that is not UTF-8": ("record.json", b'{"schema": 1, "instrument": "\xa9"}'),
    "a record nested without end": ("record.json", b'{"schema":' + b"{" * 100_000),
    "a batch's record that is not UTF-8": ("batch.json", b'{"schema": "\xa9"}'),
    "TOML nested without end": ("layout.toml", b"strings = " + b"[" * 100_000),
    "a price that is no finite number": ("prices.csv", b"string,price\nC4,1e999\n"),
    "a layout's name that no file could have": (
        "manifest.csv",
        b"instrument,recordings,layout\nA,a.wav,lever-" + b"9" * 400 + b"\n",
    ),
    "a manifest of NUL": ("manifest.csv", b"\0" * 1000),
    "a manifest of quotation marks": ("manifest.csv", b'"' * 1001),
}
"""What was found by damaging files on purpose, and must not come back."""


@pytest.mark.parametrize("case", REGRESSIONS)
def test_what_once_went_wrong(tmp_path, case):
    name, data = REGRESSIONS[case]
    path = tmp_path / name
    path.write_bytes(data)
    with contextlib.suppress(SurveyError):  # anything else that is raised fails the test
        fuzz.readers()[name](path)


def test_a_signalling_nan_is_no_warning(tmp_path):
    """0x7F800001 is a NaN that raises the "invalid" flag of IEEE 754 when it is converted."""
    from analyzer.recording import read_recording
    from analyzer.settings import RecordingSettings

    samples = np.full((11025, 2), 0.1, np.float32)
    samples[100:200].view(np.uint32)[:] = 0x7F800001
    data = samples.tobytes()
    head = b"RIFF" + struct.pack("<I", 36 + len(data)) + b"WAVEfmt "
    head += struct.pack("<IHHIIHH", 16, 3, 2, 11025, 88200, 8, 32) + b"data" + struct.pack("<I", len(data))
    (tmp_path / "nan.wav").write_bytes(head + data)
    recording = read_recording(tmp_path / "nan.wav", RecordingSettings())
    assert "damaged samples" in [finding.code for finding in recording.info.findings]


def test_damaged_files_of_every_kind(tmp_path):
    assert fuzz.failures("readers", 3, 250, tmp_path) == []


def test_commands_on_damaged_files(tmp_path):
    assert fuzz.failures("commands", 3, 12, tmp_path / "a") == []
    assert fuzz.failures("surveys", 3, 60, tmp_path / "b") == []


@pytest.mark.long
@pytest.mark.parametrize("seed", range(4))
def test_damaged_files_of_every_kind_at_length(tmp_path, seed):
    assert fuzz.failures("readers", 100 + seed, 5000, tmp_path) == []


@pytest.mark.long
def test_commands_on_damaged_files_at_length(tmp_path):
    assert fuzz.failures("commands", 100, 500, tmp_path / "a") == []
    assert fuzz.failures("surveys", 100, 5000, tmp_path / "b") == []


@pytest.fixture(scope="module")
def tiny(tmp_path_factory):
    home = tmp_path_factory.mktemp("tiny")
    write_layout(home)
    write_recording(home / "harp.flac", 1)
    return home


def batch(folder, out, tiny, *more):
    words = ["batch", str(folder), "--out", str(out), "--layout", str(tiny / "tiny.toml"), "--workers", "1", *more]
    return main(words)


@pytest.mark.skipif(os.name == "nt", reason="no such names there")
@pytest.mark.parametrize(
    "name", ["a\nb", "x\\..\\y", "=1+1", "a\udcffb", " ", "-rf", "<script>", "💥\u202e", "CON", "$(id)"]
)
def test_names_of_recordings_lead_nowhere(tmp_path, tiny, name):
    import csv

    (tmp_path / "in").mkdir()
    (tmp_path / "in" / f"{name}.flac").write_bytes((tiny / "harp.flac").read_bytes())
    assert batch(tmp_path / "in", tmp_path / "out", tiny) == 0
    assert sorted(p.name for p in tmp_path.iterdir()) == ["in", "out"]
    with (tmp_path / "out" / "instruments.csv").open(newline="", encoding="utf-8") as file:
        (row,) = csv.DictReader(file)
    assert row["heard"] == "10"
    assert row["instrument"].isprintable()
    assert not row["instrument"].startswith(("=", "-"))
    assert (tmp_path / "out" / row["report"]).is_file()
    page = (tmp_path / "out" / "collection.html").read_text(encoding="utf-8")
    assert "<script>.flac" not in page
    assert page.count("<script") == 1


@pytest.mark.parametrize("name", ["../../evil", "/etc/evil", "a\\..\\..\\evil", "..", "."])
def test_names_of_instruments_lead_nowhere(tmp_path, tiny, name):
    (tmp_path / "in").mkdir()
    (tmp_path / "in" / "a.flac").write_bytes((tiny / "harp.flac").read_bytes())
    (tmp_path / "in" / "list.csv").write_text(f'instrument,recordings\n"{name}",a.flac\n', encoding="utf-8")
    assert batch(tmp_path / "in" / "list.csv", tmp_path / "out", tiny) == 0
    assert sorted(p.name for p in tmp_path.iterdir()) == ["in", "out"]
    (home,) = (p for p in (tmp_path / "out" / "instruments").iterdir() if p.name != ".locks")
    assert (home / "survey.json").is_file()


def test_lying_and_endless_recordings_are_rows(tmp_path, tiny, capfd):
    """A batch of what may hurt: headers that lie, rates and channels out of reach, silence, no sound at all."""
    folder = tmp_path / "in"
    folder.mkdir()
    sound = np.zeros(8000, np.float32)
    soundfile.write(folder / "1hz.wav", sound, 1)
    soundfile.write(folder / "10mhz.wav", sound, 10_000_000)
    soundfile.write(folder / "64.wav", np.zeros((800, 64)), 44100)
    soundfile.write(folder / "silence.flac", np.zeros(44100 * 60), 44100)
    data = bytearray((tiny / "harp.flac").read_bytes())
    data[18:26] = b"\xff" * 8
    (folder / "lies.flac").write_bytes(data)
    (folder / "nothing.mp3").write_bytes(b"")
    (folder / "page.m4a").write_text("<html>", encoding="utf-8")
    (folder / "list.mp3").write_text("#EXTM3U\nfile:///etc/passwd\n", encoding="utf-8")
    (folder / "good.flac").write_bytes((tiny / "harp.flac").read_bytes())
    assert batch(folder, tmp_path / "out", tiny) == 0
    failures = (tmp_path / "out" / "failures.csv").read_text(encoding="utf-8")
    for name in ("1hz.wav", "10mhz.wav", "64.wav", "silence.flac", "nothing.mp3", "page.m4a", "list.mp3"):
        assert name in failures
    assert "Traceback" not in capfd.readouterr().err
    assert "program failed" not in failures
    assert str(tmp_path) not in failures


def test_modules_in_the_folder_it_is_run_in_are_not_taken(tmp_path, tiny):
    """Somebody's intake folder may hold a `json.py` or `analyzer/`; no worker may run it."""
    trap = 'open("trapped", "w").close()\n'
    for name in ("json.py", "msgspec.py", "joblib.py", "numpy.py"):
        (tmp_path / name).write_text(trap, encoding="utf-8")
    (tmp_path / "analyzer").mkdir()
    (tmp_path / "analyzer" / "worker.py").write_text(trap, encoding="utf-8")
    (tmp_path / "analyzer" / "__init__.py").write_text(trap, encoding="utf-8")
    for k in range(2):
        (tmp_path / f"{k}.flac").write_bytes((tiny / "harp.flac").read_bytes())
    words = ["batch", ".", "--out", "out", "--layout", str(tiny / "tiny.toml"), "--workers", "2"]
    env = {name: value for name, value in os.environ.items() if name != "PYTHONPATH"}
    command = [sys.executable, "-P", "-c", COMMAND, *words]
    subprocess.run(command, cwd=tmp_path, env=env, check=True, stderr=subprocess.DEVNULL)
    assert not (tmp_path / "trapped").exists()
    assert (tmp_path / "out" / "instruments.csv").read_text(encoding="utf-8").count("\n") == 3


def test_a_json_file_without_end_is_not_read_to_the_end(tmp_path):
    from analyzer.json_files import read_bounded
    from analyzer.settings import FileSettings

    (tmp_path / "survey.json").write_bytes(b" " * 2000)
    with pytest.raises(OSError, match="larger than 1000"):
        read_bounded(tmp_path / "survey.json", FileSettings(json_limit_bytes=1000))


@pytest.mark.skipif(sys.platform != "linux", reason="a file system of its own is mounted only there")
def test_a_disk_that_is_full(tmp_path, tiny):
    """On a tmpfs of 256 kB: a sentence, no half results, and what was finished is still there."""
    disk = tmp_path / "disk"
    disk.mkdir()
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=256k", "tmpfs", str(disk)], check=False, capture_output=True
    )
    if mounted.returncode:
        pytest.skip("no right to mount")
    try:
        folder = tmp_path / "in"
        for k in range(12):
            write_recording(folder / f"harp {k}.flac", k)
        words = [
            "batch",
            str(folder),
            "--out",
            str(disk / "out"),
            "--layout",
            str(tiny / "tiny.toml"),
            "--workers",
            "2",
        ]
        run = subprocess.run(
            [sys.executable, "-c", COMMAND, *words], check=False, capture_output=True, text=True, encoding="utf-8"
        )
        assert run.returncode == 2
        assert "disk is full" in run.stderr.splitlines()[-1]
        assert "Traceback" not in run.stderr
        homes = [p for p in (disk / "out" / "instruments").iterdir() if p.name != ".locks"]
        whole = [p for p in homes if (p / "batch.json").exists()]
        assert whole
        assert all((p / "survey.json").stat().st_size > 1000 for p in whole)
    finally:
        subprocess.run(["umount", str(disk)], check=True)
