"""Broken and hostile input for every reader: `python -m tests.fuzz readers|commands|surveys SEED COUNT FOLDER`.

Files of every kind are damaged as wires, disks and people damage them, and each is given to its reader or a command.
It may give a result or raise SurveyError with one sentence; anything else is written to FOLDER with its traceback.
Run as a process of its own (`failures`), so that a decoder that crashes or never ends is seen as well.
"""

import contextlib
import faulthandler
import functools
import io
import itertools
import json
import random
import subprocess
import sys
import time
import traceback
from collections.abc import Callable, Iterator
from pathlib import Path

LIMIT_S = 120.0
"""Longest that one small input may take by the clock (usually some ms), on a machine that is busy otherwise …"""
WORK_S = 10.0
"""… and by the processor."""

Reader = Callable[[Path], object]
EXTREMES = (0, 1, 0x7F, 0x80, 0xFF, 0x7FFF, 0x8000, 0xFFFF, 0x7FFFFFFF, 0x80000000, 0xFFFFFFFF, 10_000_000)
ABSURD = (None, 0, -1, 1e308, -1e-308, 10**30, "", "../x", "\0\n", [], {}, True, "9" * 99, 5e-324)
KINDS_OF_SOUND = (
    "wav PCM_16,wav FLOAT,wav DOUBLE,wav PCM_U8,rf64 PCM_24,w64 PCM_16,"
    "flac PCM_16,ogg VORBIS,aiff PCM_16,caf ALAC_16,au ULAW"
)
TOKENS = (
    b"\0",
    b"\n",
    b'"',
    b"'",
    b",",
    b";",
    b"=1+1",
    b"../../x",
    b"-1",
    b"1e999",
    b"NaN",
    b"null",
    b"[" * 200,
    b"{" * 200,
    b"[]",
    b"{}",
    b"\xff\xfe",
    "é💥\u202e".encode(),
    b"9" * 400,
    b"\\ud800",
    b"true",
)


def sounds(folder: Path) -> dict[str, bytes]:
    """A second of sound as every kind of file."""
    import av
    import numpy as np
    import soundfile

    t = np.arange(11025) / 11025
    sound = (0.3 * np.sin(2 * np.pi * 440 * t) * np.exp(-3 * t)).astype(np.float32)
    out = {}
    for name, subtype in (kind.split() for kind in KINDS_OF_SOUND.split(",")):
        path = folder / f"{subtype}.{name}"
        soundfile.write(path, np.stack([sound, sound], 1), 11025, subtype=subtype, format=name.upper())
        out[path.name] = path.read_bytes()
    for name, codec in (("m4a", "aac"), ("mp3", "libmp3lame"), ("webm", "libopus"), ("mov", "aac"), ("3gp", "aac")):
        path = folder / f"{codec}.{name}"
        rate_hz = 48000 if codec == "libopus" else 44100
        with av.open(str(path), "w") as container:
            stream = container.add_stream(codec, rate=rate_hz, layout="mono")
            frame = av.AudioFrame.from_ndarray(np.resize(sound, (1, rate_hz)), format="fltp", layout="mono")
            frame.sample_rate = rate_hz
            resampler = av.AudioResampler(
                format=stream.format, layout="mono", rate=rate_hz, frame_size=stream.frame_size
            )
            for part in [*resampler.resample(frame), None]:
                container.mux(stream.encode(part))
        out[path.name] = path.read_bytes()
    return out


def texts() -> dict[str, bytes]:
    """Every kind of file that is read as text."""
    from analyzer.answers import Answers
    from analyzer.record import About
    from analyzer.survey import to_json
    from tests.example_survey import example_survey

    layouts = Path(__file__).parents[1] / "analyzer" / "layouts"
    survey = to_json(example_survey())
    return {
        "layout.toml": (layouts / "lever-22-C4-C7.toml").read_bytes(),
        "prices.csv": b"string,price,material,stringing\nC4,12.50,gut,light\n5C,3.00,,\nbass wires,99.00,,\n",
        "manifest.csv": b"instrument,recordings,layout,tuning,a4,date,humidity,note\n"
        b'"Hall, old",a.wav,lever-34,E-flat,442,2026-03-01,45,"a ""note"""\nB,b.wav,pedal-47,,,,,\n',
        "survey.json": survey,
        "answers.json": _json(Answers(inspected="good", levers="off", confirmed=("C4",), fitted={"D4": "2026-03-01"})),
        "record.json": _json(About(instrument="Hall harp", serial="12")),
        "batch.json": b'{"schema": 1, "fingerprint": "x", "priced": "", "limits": [900.0, 2000.0], "files": ["a"],'
        b' "line": null, "failures": [["a.wav", "b"]]}',
    }


def _json(value: object) -> bytes:
    import msgspec

    return msgspec.json.encode(value)


def readers() -> dict[str, Reader]:
    """File name or ending -> what reads it."""
    from analyzer import answers, finished, prices, record
    from analyzer.intake import Words
    from analyzer.layout import load_layout
    from analyzer.manifest import read_manifest
    from analyzer.recording import read_recording
    from analyzer.settings import RecordingSettings
    from analyzer.survey import read_survey

    layout = load_layout("lever-34")

    def about(path: Path) -> object:
        path.replace(path.with_name("record.json"))
        return record.read_about(path.parent)

    def batch(path: Path) -> object:
        path.replace(path.with_name("batch.json"))
        return finished.read_record(path.parent)

    return {
        "layout.toml": lambda path: load_layout(str(path)),
        "prices.csv": lambda path: prices.read_prices(path, layout),
        "manifest.csv": lambda path: read_manifest(path, Words(layout="lever-34")),
        "survey.json": read_survey,
        "answers.json": answers.read_answers,
        "record.json": about,
        "batch.json": batch,
        "": lambda path: read_recording(path, RecordingSettings()),
    }


def damaged(data: bytes, rng: random.Random) -> bytes:
    """The bytes with one to eight faults."""
    out = bytearray(data)
    for _ in range(rng.choice((1, 1, 2, 4, 8))):
        at = rng.randrange(len(out) + 1)
        if rng.random() < 0.4:
            at = min(at, rng.randrange(64))  # headers are at the start
        match rng.randrange(8):
            case 0:
                del out[at:]
            case 1:
                del out[at : at + rng.randrange(1, 64)]
            case 2:
                out[at:at] = rng.choice(TOKENS)
            case 3:
                out[at : at + 1] = rng.randbytes(1)
            case 4:
                size = rng.choice((1, 2, 4, 8))
                value = rng.choice(EXTREMES) % (1 << (8 * size))
                out[at : at + size] = value.to_bytes(size, rng.choice(("little", "big")))
            case 5:
                start = rng.randrange(len(out) + 1)
                out[at:at] = out[start : start + rng.randrange(1, 512)]
            case 6:
                out[at : at + 8] = rng.randbytes(8)
            case _:
                out[at : at + 1] = bytes([out[at] ^ (1 << rng.randrange(8))]) if at < len(out) else b""
    return bytes(out)


def misvalued(data: bytes, rng: random.Random) -> bytes:
    """A JSON file that is well-formed, with one to three values replaced by absurd ones."""
    value = json.loads(data)
    places: list[tuple[object, object]] = []

    def walk(node: object) -> None:
        keys = list(node) if isinstance(node, dict) else range(len(node)) if isinstance(node, list) else ()
        for key in keys:
            places.append((node, key))
            walk(node[key])  # type: ignore[index]

    walk(value)
    for _ in range(rng.randrange(1, 4)):
        node, key = rng.choice(places)
        node[key] = rng.choice(
            (None, 0, -1, 1e308, -1e-308, 10**30, "", "../x", "\0\n", [], {}, True, "9" * 99, 5e-324)
        )  # type: ignore[index]
    return json.dumps(value).encode()


def attempts(rng: random.Random, work: Path) -> Iterator[tuple[str, bytes, Callable[[], object]]]:
    """(file name, content, what reads it) without end, every reader in turn."""
    corpus, reads = {**sounds(work), **texts()}, readers()
    for name in itertools.cycle(sorted(corpus)):
        damage = misvalued if name.endswith(".json") and rng.random() < 0.4 else damaged
        data, path = damage(corpus[name], rng), work / name
        path.write_bytes(data)
        yield name, data, functools.partial(reads.get(name, reads[""]), path)


def commands(rng: random.Random, work: Path) -> Iterator[tuple[str, bytes, Callable[[], object]]]:
    """`analyze` on damaged recordings of a harp."""
    from tests.tiny_harps import write_layout, write_recording

    layout = str(write_layout(work))
    whole = {name: write_recording(work / name, 1).read_bytes() for name in ("harp.wav", "harp.flac", "harp.ogg")}
    for name in itertools.cycle(whole):
        data, path = damaged(whole[name], rng), work / name
        path.write_bytes(data)
        yield name, data, functools.partial(called, work, {"tiny.toml", *whole}, "analyze", path, "--layout", layout)


def surveys(rng: random.Random, work: Path) -> Iterator[tuple[str, bytes, Callable[[], object]]]:
    """The commands that read surveys, on surveys with absurd values."""
    survey = texts()["survey.json"]
    good = ("--inspected", "good", "--levers", "off", "--tuning", "E-flat", "--confirm", "all")
    path = work / "survey.json"
    for words in itertools.cycle((("plan", path, *good), ("compare", path, path), ("reply", path))):
        data = misvalued(survey, rng)
        path.write_bytes(data)
        yield f"{words[0]}.json", data, functools.partial(called, work, {"survey.json"}, *words)


def called(work: Path, there: set[str], *words: object) -> None:
    """Runs a command, which must end in its files or in one sentence."""
    from analyzer.cli import main as run

    said = io.StringIO()
    with contextlib.redirect_stderr(said), contextlib.redirect_stdout(io.StringIO()):
        code = run([*map(str, words), "--out", str(work / "out")])
    assert code in (0, 2, 3), f"exit {code}"
    assert code == 0 or said.getvalue().count("\n") == 1, said.getvalue()
    (work / "plan-answers.json").unlink(missing_ok=True)  # kept with the survey, on purpose
    beside = {p.name for p in work.iterdir()} - {"out", *there}
    assert not beside, f"written outside the output folder: {beside}"


def main(kind: str, seed: int, count: int, folder: Path) -> int:
    """Try so many inputs; those that fail stay in the folder. Returns how many did."""
    from analyzer.errors import SurveyError

    rng = random.Random(seed)
    work = folder / "work"
    work.mkdir(parents=True, exist_ok=True)
    failed_n = 0
    for name, data, attempt in itertools.islice(KINDS[kind](rng, work), count):
        (folder / "last.bin").write_bytes(data)
        faulthandler.dump_traceback_later(LIMIT_S, exit=True)
        start_s = time.process_time()
        said = io.StringIO()
        try:
            with contextlib.redirect_stderr(said):  # where a library's traceback would go
                attempt()
        except SurveyError as e:
            if name != "manifest.csv" and "\n" in str(e):
                failed_n += _keep(folder, name, data, f"more than one line: {e}")
        except BaseException:
            failed_n += _keep(folder, name, data, traceback.format_exc())
        if said.getvalue():
            failed_n += _keep(folder, name, data, f"said on standard error: {said.getvalue()}")
        if time.process_time() - start_s > WORK_S:
            failed_n += _keep(folder, name, data, f"took {time.process_time() - start_s:.1f} s")
    faulthandler.cancel_dump_traceback_later()
    return failed_n


def _keep(folder: Path, name: str, data: bytes, why: str) -> int:
    count = len(list(folder.glob("failed-*.txt")))
    (folder / f"failed-{count}-{name}").write_bytes(data)
    (folder / f"failed-{count}-{name}.txt").write_text(why, encoding="utf-8")
    return 1


def failures(kind: str, seed: int, count: int, folder: Path) -> list[str]:
    """What went wrong, in words, from a process of its own."""
    words = [sys.executable, "-W", "error", "-m", "tests.fuzz", kind, str(seed), str(count), str(folder)]
    done = subprocess.run(words, cwd=Path(__file__).parents[1], capture_output=True, text=True, check=False)
    said = [p.read_text(encoding="utf-8") for p in sorted(folder.glob("failed-*.txt"))]
    if done.returncode != min(len(said), 1):
        said.append(f"ended with {done.returncode}: {done.stderr[-2000:]} (input in {folder / 'last.bin'})")
    return said


KINDS = {"readers": attempts, "commands": commands, "surveys": surveys}

if __name__ == "__main__":
    sys.exit(min(main(sys.argv[1], int(sys.argv[2]), int(sys.argv[3]), Path(sys.argv[4])), 1))
