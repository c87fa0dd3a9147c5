"""Broken and hostile input ends in a result or one sentence with exit 2 or 3; nothing is written elsewhere."""

import contextlib
import json
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
    "a layout with a number of ten thousand digits": ("layout.toml", b"strings = " + b"9" * 10_000),
    "a survey nested deeply where nothing is read": (
        "survey.json",
        fuzz.texts()["survey.json"].rstrip()[:-1] + b',"x":' + b"[" * 900 + b"1" + b"]" * 900 + b"}",
    ),
}
"""What was found by damaging files on purpose, and must not come back."""


def _wav(samples, *, kind=1, channels=1, rate_hz=44100, bits=16, data_n=None, before=b"", start=b"RIFF"):
    """A WAV file (RFC 2361's fields) with whatever is said in its header."""
    frame = channels * bits // 8
    form = struct.pack("<HHIIHH", kind, channels, rate_hz, rate_hz * frame & 0xFFFFFFFF, frame & 0xFFFF, bits)
    size = struct.pack("<I", len(samples) if data_n is None else data_n)
    body = b"WAVE" + before + b"fmt " + struct.pack("<I", len(form)) + form + b"data" + size + samples
    return start + struct.pack("<I", len(body) if data_n is None else data_n) + body


NOISE = (3000 * np.random.default_rng(0).standard_normal(44100)).astype("<i2").tobytes()
CAF_THAT_LEADS_BEFORE_ITS_START = bytes.fromhex(
    "636166660001000064657363000000000000002040c5888000000000616c6163000000010000000000001000"
    "0000005b5d02000000006b756b690000000000000018000010000010280a0e02"
)
"""Found by damaging one; PyAV writes a traceback of its own to standard error when a file refuses to seek there."""
DS64 = b"ds64" + struct.pack("<IQQQI", 28, 2**63, 2**62, 2**61, 0)  # EBU Tech 3306
ALTERNATING = np.where(np.arange(44100) % 2, 1.0, -1.0)


@pytest.mark.parametrize(
    ("data", "code"),
    [
        (_wav(NOISE, data_n=0xFFFFFFFF, before=DS64, start=b"RF64"), 3),
        (_wav(NOISE, data_n=0xFFFFFFFF, start=b"RF64"), 2),
        (_wav(NOISE, channels=0), 2),
        (_wav(NOISE, channels=65535), 2),
        (_wav(NOISE, bits=0), 2),
        (_wav(NOISE, rate_hz=0), 2),
        (_wav(NOISE, rate_hz=2**32 - 1), 2),
        (_wav(NOISE, bits=8), 3),
        (_wav(NOISE, before=b"LIST" + struct.pack("<I", 0xFFFFFFF0)), 2),
        (_wav(NOISE, before=(b"junk" + bytes(4)) * 5000), 3),
        (_wav(NOISE[:0]), 2),
        (_wav(NOISE[:2]), 3),
        *((_wav(np.full(44100, v, "<f8").tobytes(), kind=3, bits=64), 2) for v in (np.nan, np.inf, 1e300, 5e-324)),
        (_wav((1e300 * ALTERNATING).astype("<f8").tobytes(), kind=3, bits=64), 2),
        (_wav((0.9 * ALTERNATING).astype("<f8").tobytes(), kind=3, bits=64), 3),
        (_wav(np.full(44100, 0.3, "<f8").tobytes(), kind=3, bits=64), 3),
        (b"ID3\x04\0\0\x7f\x7f\x7f\x7f" + bytes(1000), 2),
        (b"ID3\x04\0\0\0\0\0\0" * 10_000, 2),
        (struct.pack(">I8sII4sQ", 16, b"ftypM4A ", 0, 1, b"moov", 2**62) + bytes(1000), 2),
        (struct.pack(">I8sII4s", 16, b"ftypM4A ", 0, 2**32 - 1, b"moov") + bytes(1000), 2),
        (b"".join(struct.pack(">I4s", 8 * k, b"moov") for k in range(20_000, 0, -1)), 2),
        (CAF_THAT_LEADS_BEFORE_ITS_START, 2),
        (b"fLaC", 2),
        (b"OggS" * 5000, 2),
    ],
)
def test_headers_that_lie_and_samples_that_are_none(tmp_path, capfd, data, code):
    (tmp_path / "it").write_bytes(data)
    assert main(["analyze", str(tmp_path / "it"), "--layout", "lever-34", "--out", str(tmp_path / "out")]) == code
    assert capfd.readouterr().err.count("\n") == 1
    assert [p.name for p in tmp_path.iterdir()] == ["it"]


def test_a_flac_stream_that_says_no_length_is_read(tmp_path, tiny):
    """Whoever encodes into a pipe leaves 0 samples in STREAMINFO (RFC 9639, 8.2), which means unknown."""
    from analyzer.recording import read_recording
    from analyzer.settings import RecordingSettings

    data = bytearray((tiny / "harp.flac").read_bytes())
    data[21] &= 0xF0
    data[22:26] = bytes(4)
    (tmp_path / "piped.flac").write_bytes(data)
    piped, whole = (read_recording(p, RecordingSettings()) for p in (tmp_path / "piped.flac", tiny / "harp.flac"))
    assert len(piped.samples) == len(whole.samples)
    assert piped.info.findings == whole.info.findings
    np.testing.assert_allclose(piped.samples.read(0, 50000), whole.samples.read(0, 50000), atol=1e-6)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no such things there")
@pytest.mark.parametrize(
    "what", ["pipe", "loop", "/dev/zero", "/dev/null", "nul\0", "n" * 300], ids=lambda what: what[:9]
)
def test_what_is_no_file_is_not_waited_at(tmp_path, tiny, capsys, what):
    """As every kind of input; a pipe that nobody writes to, devices without end, links in a circle."""
    os.mkfifo(tmp_path / "pipe")
    (tmp_path / "loop").symlink_to("loop")
    path = str(tmp_path / what)
    survey = tmp_path / "survey.json"
    survey.write_bytes(fuzz.texts()["survey.json"])
    commands = (
        ("analyze", path, "--layout", "lever-34"),
        ("analyze", str(tiny / "harp.flac"), "--layout", path),
        ("plan", path),
        ("plan", str(survey), "--inspected", "good", "--levers", "off", "--prices", path),
        ("reply", path),
        ("batch", path, "--layout", "lever-34"),
    )
    for words in commands:
        assert main([*words, "--out", str(tmp_path / "out")]) == 2, words
        assert capsys.readouterr().err.count("\n") == 1, words
    assert {p.name for p in tmp_path.iterdir()} == {"pipe", "loop", "survey.json"}


def test_a_recording_in_a_list_that_is_a_pipe_is_a_row(tmp_path, tiny):
    if not hasattr(os, "mkfifo"):
        pytest.skip("no such things there")
    (tmp_path / "in").mkdir()
    os.mkfifo(tmp_path / "in" / "a.wav")
    (tmp_path / "in" / "b.wav").symlink_to("b.wav")
    (tmp_path / "in" / "good.flac").write_bytes((tiny / "harp.flac").read_bytes())
    assert batch(tmp_path / "in", tmp_path / "out", tiny) == 0
    failures = (tmp_path / "out" / "failures.csv").read_text(encoding="utf-8")
    assert "a.wav,It cannot be opened" in failures
    assert "b.wav,It cannot be opened" in failures


@pytest.mark.parametrize("schema", [0, -1, False, None, "1", 1.5, 10**30])
def test_a_survey_of_no_schema_of_ours_is_refused(tmp_path, capsys, schema):
    survey = json.loads(fuzz.texts()["survey.json"])
    (tmp_path / "survey.json").write_text(json.dumps({**survey, "schema": schema}), encoding="utf-8")
    assert main(["reply", str(tmp_path), "--out", str(tmp_path / "out")]) == 2
    assert capsys.readouterr().err.count("\n") == 1


def test_keys_of_many_parts_do_not_keep_the_parser_busy(tmp_path):
    """A time that grows with the square of the parts: half an hour for a megabyte."""
    from analyzer.layout import check_layout

    (tmp_path / "bomb.toml").write_text(".".join("a" * 90_000) + " = 1\n", encoding="utf-8")
    (problem,) = check_layout(tmp_path / "bomb.toml")
    assert "not valid TOML" in problem


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

    (tmp_path / "survey.json").write_bytes(b" " * 2000)
    with pytest.raises(OSError, match="larger than 1000"):
        read_bounded(tmp_path / "survey.json", 1000)


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
