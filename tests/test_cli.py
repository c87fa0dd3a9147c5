"""The command line as a script meets it: files of the contract, exit codes, one plain sentence when it cannot go on."""

import csv
import json
import re
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import soundfile

from analyzer.cli import main, parser
from tests.synth_harp import HarpSpec, harp_recording, harp_strings

STRINGS_COLUMNS = (
    "string,note,target_hz,status,onset_s,pitch_hz,cents,cents_u95,match_confidence,decay_s,decay_u95_s,dull,"
    "dull_probability,false_probability,verdict,remarks"
).split(",")
PLUCKS_COLUMNS = "onset_s,end_s,string,confidence,also_possible,counted,reason,pitch_hz,level_db".split(",")


@pytest.fixture(scope="module")
def recording(tmp_path_factory):
    spec = HarpSpec(
        strings=harp_strings("C4", "C7", flats="BEA"),
        missing=("G5",),
        slack_cents=-150,
        gap_s=(1.3, 1.7),
        rate_hz=22050,
    )
    take = harp_recording(spec, np.random.default_rng(3))
    path = tmp_path_factory.mktemp("recording") / "harp.flac"
    soundfile.write(path, take.samples, take.rate_hz)
    return path


@pytest.fixture(scope="module")
def out(recording, tmp_path_factory):
    folder = tmp_path_factory.mktemp("results") / "out"
    words = ["analyze", str(recording), "--layout", "lever-22-C4-C7", "--tuning", "E-flat", "--missing", "G5"]
    assert main([*words, "--out", str(folder)]) == 0
    return folder


def rows(path):
    with path.open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def test_all_files_of_the_contract_are_there(out):
    assert {"survey.json", "strings.csv", "plucks.csv", "report.html", "figures"} <= {p.name for p in out.iterdir()}
    assert list((out / "figures").glob("*.svg"))
    assert "<audio" in (out / "report.html").read_text(encoding="utf-8")


def test_columns_stand_first_and_in_order(out):
    assert list(rows(out / "strings.csv")[0])[: len(STRINGS_COLUMNS)] == STRINGS_COLUMNS
    assert list(rows(out / "plucks.csv")[0])[: len(PLUCKS_COLUMNS)] == PLUCKS_COLUMNS


def test_one_row_for_every_string_and_one_counted_pluck_for_each_heard(out):
    strings, plucks = rows(out / "strings.csv"), rows(out / "plucks.csv")
    assert len(strings) == 22
    for row in strings:
        counted = sum(p["string"] == row["string"] and p["counted"] == "true" for p in plucks)
        assert counted == (row["status"] != "not heard")
    assert [r["string"] for r in strings if r["status"] == "not heard"] == ["G5"]


def test_where_what_was_said_and_what_was_heard_disagree_the_terminal_says_so(recording, tmp_path, capsys):
    words = ["analyze", str(recording), "--layout", "lever-22-C4-C7", "--tuning", "E-flat", "--no-clips"]
    assert main([*words, "--missing", "none", "--order", "down", "--out", str(tmp_path / "out")]) == 0
    told = capsys.readouterr().err
    assert "You said that no string is missing, but G5 was not heard" in told
    assert "harp.flac: you said the strings were plucked down, but they sound in another order." in told


def test_the_operators_folders_are_nowhere_in_the_results(out, recording):
    for name in ("survey.json", "report.html", "strings.csv", "plucks.csv"):
        assert str(recording.parent) not in (out / name).read_text(encoding="utf-8")


def test_same_input_same_bytes(recording, out, tmp_path, monkeypatch):
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1700000000")
    words = ["analyze", str(recording), "--layout", "lever-22-C4-C7", "--tuning", "E-flat", "--missing", "G5"]
    for name in ("a", "b"):
        assert main([*words, "--out", str(tmp_path / name)]) == 0
    for file in sorted((tmp_path / "a").rglob("*")):
        if file.is_file():
            assert file.read_bytes() == (tmp_path / "b" / file.relative_to(tmp_path / "a")).read_bytes(), file.name


def refused(capsys, *words):
    """Runs words that must end in exit code 2 (argparse exits by itself) and gives the sentence."""
    assert main([str(w) for w in words]) == 2
    sentence = capsys.readouterr().err.strip()
    assert "Traceback" not in sentence
    assert sentence.count("\n") == 0
    assert sentence.startswith("harp-survey: ")
    return sentence


def wrong(folder, name):
    path = folder / name
    if name == "text.wav":
        path.write_text("these are not samples", encoding="utf-8")
    elif name == "empty.wav":
        path.write_bytes(b"")
    elif name == "silent.wav":
        soundfile.write(path, np.zeros(22050 * 5), 22050)
    elif name == "folder.wav":
        path.mkdir()
    return path


@pytest.mark.parametrize("name", ["text.wav", "empty.wav", "silent.wav", "folder.wav", "not-there.wav"])
def test_a_recording_that_cannot_be_used(capsys, tmp_path, name):
    sentence = refused(capsys, "analyze", wrong(tmp_path, name), "--layout", "lever-34", "--out", tmp_path / "out")
    assert name in sentence
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        (("--layout", "lever-43"), r"lever-34"),
        (("--layout", "lever-27"), r"lever-27-C3-A6.*lever-27-G2-E6"),
        (("--layout", "lever-34", "--tuning", "E-falt"), r"E-flat"),
        (("--layout", "lever-34", "--a4", "44"), r"44"),
        (("--layout", "lever-34", "--missing", "C9"), r"C9"),
        (("--layout", "lever-34", "--first", "fourth green from the top"), r"green"),
        (("--layout", "lever-34", "--only", "C4,E5", "--last", "E5"), r"leave out --first and --last"),
        (("--layout", "lever-34", "--only", "none"), r"--only names no string"),
        (("--layout", "lever-34", "--only", ","), r"--only names no string"),
        (("--layout", "lever-34", "--levers", "of"), r"Did you mean off\?"),
        (("--layout", "lever-34", "--pedals", "flat"), r"pedals"),
        (("--layout", "lever-34", "--pluck", "soon=C4"), r"seconds"),
        (("--layout", "lever-34", "--target", "C4"), r"="),
        (("--layout", "lever-34", "--date", "1/3/2026"), r"2026-03-01"),
    ],
)
def test_words_that_cannot_be_used_name_the_mend(capsys, recording, tmp_path, words, expected):
    sentence = refused(capsys, "analyze", recording, "--out", tmp_path / "out", *words)
    assert re.search(expected, sentence)
    assert not (tmp_path / "out").exists()


def test_nothing_is_no_entry_of_a_record(capsys, tmp_path):
    assert "name a survey's folder" in refused(capsys, "record", "add", tmp_path / "harp")
    assert not (tmp_path / "harp").exists()


def test_the_other_spelling_is_the_same_command(capsys):
    assert "gone.wav: no such file" in refused(capsys, "analyse", "gone.wav", "--layout", "lever-34", "--out", "out")


def test_a_layout_with_a_string_twice(capsys, recording, tmp_path):
    from analyzer import layout

    built_in = Path(layout.__file__).parent / "layouts" / "lever-22-C4-C7.toml"
    lines = built_in.read_text(encoding="utf-8").splitlines(keepends=True)
    double = next(line for line in lines if '"D4"' in line)
    mine = tmp_path / "mine.toml"
    mine.write_text("".join(line + (line if line == double else "") for line in lines), encoding="utf-8")
    assert "D4" in refused(capsys, "analyze", recording, "--layout", mine, "--out", tmp_path / "out")


def test_too_little_of_a_harp_is_exit_3(capsys, tmp_path):
    take = harp_recording(HarpSpec(strings=harp_strings("C4", "E4"), rate_hz=22050), np.random.default_rng(0))
    soundfile.write(tmp_path / "three.wav", take.samples, take.rate_hz)
    words = ["analyze", str(tmp_path / "three.wav"), "--layout", "lever-34", "--out", str(tmp_path / "out")]
    assert main(words) == 3
    assert "record again" in capsys.readouterr().err
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize("folder", ["", " ", "a" * 300])
def test_results_go_only_where_a_folder_was_named(capsys, recording, folder, monkeypatch, tmp_path):
    monkeypatch.chdir(tmp_path)
    with pytest.raises(SystemExit) as stopped:
        main(["analyze", str(recording), "--layout", "lever-34", "--out", folder])
    assert stopped.value.code == 2
    assert "folder for the results" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        (("--humidity", "45 %", "--temperature", "19,5 °C"), (45.0, 19.5)),
        (("--humidity", "45", "--temperature", "-3"), (45.0, -3.0)),
    ],
)
def test_humidity_and_temperature_as_people_write_them(words, expected):
    read = parser().parse_args(["record", "add", "harp", *words])
    assert (read.humidity, read.temperature) == expected


@pytest.mark.parametrize("words", [("--humidity", "145"), ("--humidity", "damp"), ("--temperature", "70 F")])
def test_what_no_room_has_is_refused(words, capsys):
    with pytest.raises(SystemExit):
        parser().parse_args(["record", "add", "harp", *words])
    assert "is no" in capsys.readouterr().err


LONG_NAME = "a" * 300


@pytest.mark.parametrize(
    "words",
    [("verify", LONG_NAME), ("record", "show", LONG_NAME), ("report", LONG_NAME), ("batch", LONG_NAME, "--out", "x")],
)
def test_a_name_that_no_file_can_have_is_one_sentence(capsys, words, monkeypatch, tmp_path):
    monkeypatch.chdir(tmp_path)
    assert LONG_NAME in refused(capsys, *words)


def test_a_file_in_the_place_of_the_results_stays(capsys, recording, tmp_path):
    (tmp_path / "out").write_text("mine", encoding="utf-8")
    refused(capsys, "analyze", recording, "--layout", "lever-22-C4-C7", "--out", tmp_path / "out")
    assert (tmp_path / "out").read_text(encoding="utf-8") == "mine"


def test_layouts_are_listed_shown_and_checked(capsys, tmp_path):
    assert main(["layouts"]) == 0
    listed = capsys.readouterr().out
    assert "lever-34-C2-A6" in listed
    assert "pedal-47-C1-G7" in listed
    assert main(["layouts", "lever-22-C4-C7"]) == 0
    assert "C4" in capsys.readouterr().out


def test_help_loads_nothing_heavy():
    """The limit on the time of --help is kept by what it does not import; time itself is for the benchmark."""
    code = "import sys; from analyzer.cli import parser; parser().format_help(); print(*sorted(sys.modules))"
    loaded = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout.split()
    assert not {"numpy", "scipy", "matplotlib", "soundfile", "av", "rich", "jinja2", "librosa", "pandas"} & set(loaded)


def test_the_readme_names_every_command_and_no_other_option():
    readme = (Path(__file__).parents[1] / "README.md").read_text(encoding="utf-8")
    actions = next(a for a in parser()._actions if a.dest == "command")
    for name in actions.choices:
        assert f"harp-survey {name}" in readme, name
    options = {o for sub in actions.choices.values() for a in sub._actions for o in a.option_strings}
    named = set(re.findall(r"(?<![\w-])--[a-z][a-z0-9-]*", "\n".join(re.findall(r"`[^`]*`|```.*?```", readme, re.S))))
    assert named <= options


def test_the_readme_test_command_is_what_ci_runs():
    root = Path(__file__).parents[1]
    commands = re.findall(r"^python3 -m venv .*$", (root / "README.md").read_text(encoding="utf-8"), re.M)
    assert len(commands) == 2
    assert commands[1] in (root / ".ci" / "run").read_text(encoding="utf-8").splitlines()


def test_the_survey_file_states_its_schema(out):
    assert json.loads((out / "survey.json").read_text(encoding="utf-8"))["schema"] >= 1


def test_demo_recovers_the_invented_harp(tmp_path, capsys):
    from analyzer import demo

    assert main(["demo", "--out", str(tmp_path / "demo")]) == 0
    assert (tmp_path / "demo" / "before" / "report.html").exists()
    table = {r["string"]: r for r in rows(tmp_path / "demo" / "before" / "strings.csv")}
    for truth in demo.demo_harp("before"):
        row = table[truth.string]
        if truth.cents is None:
            assert row["status"] == "not heard"
        else:
            assert float(row["cents"]) == pytest.approx(truth.cents, abs=3)
            assert row["dull"] == ("true" if truth.dull else "false")


def test_the_report_comes_in_german_on_paper_and_without_sounds_where_asked(recording, tmp_path):
    words = ["analyze", str(recording), "--layout", "lever-22-C4-C7", "--tuning", "E-flat", "--missing", "G5"]
    more = ["--language", "de", "--harp-octaves", "--no-clips", "--pdf", "--paper", "letter"]
    assert main([*words, *more, "--out", str(tmp_path / "out")]) == 0
    page = (tmp_path / "out" / "report.html").read_text(encoding="utf-8")
    assert '<html lang="de">' in page
    assert "4E♭" in page
    assert "<audio" not in page
    assert (tmp_path / "out" / "report.pdf").read_bytes().startswith(b"%PDF")
    assert rows(tmp_path / "out" / "strings.csv")[0]["string"] == "C4"


def test_what_is_told_speaks_the_language_of_the_page(tmp_path, capsys):
    words = ["analyze", str(tmp_path / "none.flac"), "--layout", "lever-34", "--out", str(tmp_path / "out")]
    assert main(words) == 2
    assert "no such file; check the name" in capsys.readouterr().err
    assert main([*words, "--language", "de"]) == 2
    told = capsys.readouterr().err
    assert "none.flac: Diese Datei gibt es nicht" in told
    soundfile.write(tmp_path / "none.flac", np.zeros(44100), 44100)
    assert main([*words, "--language", "de"]) == 2
    assert "none.flac: Es ist nur Stille darin" in capsys.readouterr().err
