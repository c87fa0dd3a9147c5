"""What is wrong with what a person gave is told in the language of the page; none of it is left in English.

As in `test_translation`, the catalogue of the moment is one in an invented alphabet; what stays in plain letters was
not translated, or was typed.
"""

import re
from dataclasses import replace

import pytest

from analyzer.answers import KEPT_FILE, Answers, read_answers, read_kept
from analyzer.answers import checked as checked_answers
from analyzer.cli import main
from analyzer.cli.analyze import _kept
from analyzer.errors import UnusableInput
from analyzer.folder import read_folder
from analyzer.intake import Words
from analyzer.layout import check_layout, load_layout
from analyzer.manifest import COLUMNS, read_manifest
from analyzer.notes import parse_note
from analyzer.plan_tables import read_plan
from analyzer.prices import amount, read_prices
from analyzer.record import read_about
from analyzer.restating import restated_error
from analyzer.settings import BatchSettings
from analyzer.survey import read_survey, to_json
from analyzer.tuning import make_tuning
from tests.survey_moves import plain
from tests.survey_of import survey_of
from tests.test_translation import invented, words_left

LEVER, PEDAL = load_layout("lever-34"), load_layout("pedal-47")


def told(call, *given, **more):
    """The lines of the error that it ends in."""
    with pytest.raises(UnusableInput) as caught:
        call(*given, **more)
    return str(caught.value).split("\n  ")


def left(monkeypatch, lines, *typed):
    with invented(monkeypatch):
        return words_left([restated_error(line) for line in lines], *typed)


def lists(folder):
    """Lists of harps, each with something wrong."""
    (folder / "a.wav").write_bytes(b"RIFF")
    (folder / "sub").mkdir()
    head = "instrument,recordings,layout,tuning,a4,date,humidity,missing"
    rows = (
        "One,a.wav,lever-43,E-falt,much,1/3/2026,110,",
        ",gone.wav,lever-34,,,,,",
        "Three,sub,lever-22,,,,,",
        "Four,a.wav;a.wav,lever-34,,300,,,",
        "Five,a.wav,lever-34,,,,,C9",
        "Six,a.wav,,,,,,",
        "Seven,a.wav",
        f'"Eig\nht",a.wav,{"x" * 1001},,,,,',
    )
    texts = {
        "wrong": "\n".join((head, *rows)),
        "columns": "instrument,colour,colour\nA,a,a",
        "twice": "instrument,recordings,date\nHall,a.wav,\nHall,a.wav,\nRoom,a.wav,",
        "none": head,
        "empty": "",
        "quotes": f'{head}\nA,"a.wav\n',
        "semicolons": "instrument;recordings\nHall;a.wav;b.wav",
    }
    for name, text in texts.items():
        (folder / f"{name}.csv").write_text(text, encoding="utf-8")
    (folder / "latin.csv").write_bytes(b"instrument,recordings\n\xff,a.wav")
    return [folder / f"{name}.csv" for name in (*texts, "latin")]


def test_what_is_wrong_with_a_list_of_harps(monkeypatch, tmp_path):
    typed = (
        *COLUMNS,
        "colour lever pedal wav csv harp survey layouts layout TOML CSV UTF Hz One Hall Room falt flat much",
    )
    for file in lists(tmp_path):
        for settings in (BatchSettings(), BatchSettings(manifest_lines_n=1, manifest_limit_bytes=10_000)):
            lines = told(read_manifest, file, Words(), settings)
            parts = re.findall(r"[A-Za-z]+", f"{tmp_path} {file.stem} gone sub Eig ht x unexpected end of data")
            assert left(monkeypatch, lines, *typed, *parts) == []
    (tmp_path / "a.flac").write_bytes(b"")
    lines = [*told(read_folder, tmp_path, Words()), *told(read_folder, tmp_path / "sub", Words())]
    assert left(monkeypatch, lines, *typed, str(tmp_path), "flac sub") == []


def layout_files(folder):
    """Layouts of one's own, each with something wrong."""
    rows = {
        "twice": 'string = "C4"}, {string = "C4"',
        "order": 'string = "D4"}, {string = "C4"',
        "gap": 'string = "C4"}, {string = "E4"',
        "length": 'string = "C4", length_mm = -5',
        "core": 'string = "C4", diameter_mm = 1, core_diameter_mm = 2',
        "material": 'string = "C4", material = "nylom"',
        "key": 'string = "C4", lenght_mm = 5',
        "sharp": 'string = "C#4"',
        "note": 'string = "X4"',
        "type": 'string = "C4", length_mm = "long"',
    }
    for name, row in rows.items():
        (folder / f"{name}.toml").write_text(f'kind = "lever"\nstrings = [{{{row}}}]', encoding="utf-8")
    (folder / "empty.toml").write_text('kind = "lever"\nstrings = []', encoding="utf-8")
    (folder / "keyless.toml").write_text('kind = "lever"', encoding="utf-8")
    (folder / "broken.toml").write_text("kind = ", encoding="utf-8")
    (folder / "latin.toml").write_bytes(b"\xff")
    (folder / "large.toml").write_text("#" * 200_001, encoding="utf-8")
    return sorted(folder.iterdir())


KEYS = (
    "string strings colour material length_mm length diameter mm mass per core kind name title basis source TOML UTF mm"
    " wire wound nylon gut unknown carbon steel brass long nylom lenght missing harp survey layouts layout note toml"
)


def test_what_is_wrong_with_a_layout(monkeypatch, tmp_path):
    lines = [line for file in layout_files(tmp_path) for line in check_layout(file)]
    assert len(lines) >= 15
    # what the libraries say of TOML and of types stays English
    typed = (
        str(tmp_path),
        KEYS,
        "Invalid value at line column end of document Expected float null got str in",
        *"abcdefghijk",
    )
    stems = [file.stem for file in tmp_path.iterdir()]
    assert left(monkeypatch, lines, *typed, *stems) == []
    lines = [
        line
        for name in ("lever-35", "lver-34", "lever-22", str(tmp_path / "no.toml"))
        for line in told(load_layout, name)
    ]
    assert left(monkeypatch, lines, str(tmp_path), "lever pedal lver TOML toml no") == []


@pytest.mark.parametrize(
    "text",
    [
        "string,price\nC4,12 €",
        "string,price\nC4,cheap",
        'string,price\nC4,"12,50"',
        "string,price\nC4,",
        "string,price\nC4,1.234",
        "string,price\nC4,1\nC4,2",
        "string,price\nX9,1",
        "string,price\nset,1\nset,2",
        "string,price\nC4",
        "string,cost\nC4,1",
        "string\nC4",
        "string,price,price\nC4,1,1",
        "string,price,material\nC4,1,nylom",
        "string,price,stringing\nC4,1,hevy",
        'string,price\n"C4,1',
    ],
)
def test_what_is_wrong_with_a_price_list(monkeypatch, tmp_path, text):
    file = tmp_path / "list.csv"
    file.write_text(text, encoding="utf-8")
    typed = "string price cost material stringing nylom hevy light lever gut concert heavy cheap set harp list csv CSV"
    says = "third red from the top string unexpected end of data"  # what can be written, and what a library says
    lines = told(read_prices, file, LEVER)
    assert left(monkeypatch, lines, str(tmp_path), typed, says, KEYS, LEVER.name) == []


def test_what_is_wrong_with_what_was_said(monkeypatch, tmp_path):
    (tmp_path / "answers.json").write_text('{"inspectd": "good"}', encoding="utf-8")
    (tmp_path / "list.json").write_text("[1]", encoding="utf-8")
    survey = plain()
    lines = [
        *told(make_tuning, LEVER, "X-moll"),
        *told(make_tuning, LEVER, "C", a4_hz=900.0),
        *told(make_tuning, LEVER, "C", pedals="flat"),
        *told(make_tuning, PEDAL, "C", levers="off"),
        *told(make_tuning, PEDAL, "D", pedals="flat"),
        *told(make_tuning, PEDAL, None, pedals="flatt"),
        *told(make_tuning, LEVER, "C", own_targets={"C4": "soon"}),
        *told(make_tuning, LEVER, "C", own_targets={"C4": "G6"}),
        *told(parse_note, "Q"),
        *told(amount, "10 $", "--budget"),
        *told(read_answers, tmp_path / "answers.json"),
        *told(read_answers, tmp_path / "none.json"),
        *told(checked_answers, Answers(replaced=("C4",), confirmed=("C4",)), survey),
        *told(checked_answers, Answers(replaced=("C4",), fitted={"C4": "2026-03-01"}), survey),
        *told(checked_answers, Answers(fitted={"C4": "yesterday"}), survey),
    ]
    typed = (
        str(tmp_path),
        "moll flat major minor sharp natural Bb Eb Cb Hz soon budget inspectd answers none json lever pedal flatt",
        "yesterday fitted price",
        *(name for name in Answers.__dataclass_fields__),
    )
    assert left(monkeypatch, lines, *typed) == []


def lever_harp(name, **said):
    layout = load_layout(name)
    return survey_of(layout, make_tuning(layout, **said), {s.string: -20.0 for s in layout.strings})


def test_what_is_wrong_with_surveys_that_are_to_go_together(monkeypatch, tmp_path, capsys):
    homes = {}
    one = lever_harp("lever-34-C2-A6", key="C", levers="off")
    for name, survey in {
        "one": one,
        "short": lever_harp("lever-22-C4-C7", key="C", levers="off"),
        "on": lever_harp("lever-34-C2-A6", key="C", levers="on"),
        "flat": lever_harp("lever-34-C2-A6", key="E-flat", levers="off"),
        "odd": replace(one, date="soon"),
    }.items():
        homes[name] = tmp_path / name
        homes[name].mkdir()
        (homes[name] / "survey.json").write_bytes(to_json(survey))
    (tmp_path / "broken").mkdir()
    (tmp_path / "broken" / "survey.json").write_text("[1]", encoding="utf-8")
    (tmp_path / "take.wav").write_bytes(b"RIFF")
    out = ("--out", tmp_path / "out", "--language", "de")
    looked = ("--inspected", "good", "--confirm", "all", "--date", "2026-03-02")
    typed = "broken none soon take wav json lever layout major off object array Expected got"
    options = (
        "levers tuning target fitted from done regulation out analyze SURVEY_FOLDER DIR EARLIER LATER OPEN ENGAGED"
    )
    for words in (
        ("compare", homes["one"], homes["short"]),
        ("compare", homes["one"], homes["on"]),
        ("compare", homes["one"], homes["odd"]),
        ("compare", homes["one"]),
        ("compare", homes["one"], tmp_path / "none"),
        ("compare", homes["one"], tmp_path / "take.wav"),
        ("compare", homes["one"], tmp_path / "broken"),
        ("compare", homes["one"], "--regulation", homes["one"], homes["on"]),
        ("reply", homes["one"], homes["flat"]),
        ("report", homes["one"], tmp_path / "take.wav"),
        ("plan",),
        ("plan", "--from", homes["one"]),
        ("plan", homes["one"], "--fitted", "C4"),
        ("plan", homes["one"], *looked, "--fitted", "C4=2026-04-01"),
        ("plan", homes["one"], *looked, "--done", "1"),
        ("plan", homes["one"], *looked, "--from", homes["flat"]),
        ("plan", homes["one"], *looked, "--from", homes["short"]),
        ("plan", homes["one"], *looked, "--from", homes["odd"]),
    ):
        with invented(monkeypatch):
            assert main([*map(str, words), *map(str, out)]) == 2
        line = capsys.readouterr().err
        assert words_left(line.splitlines(), str(tmp_path), *homes, one.title, typed, options) == [], words


def test_what_a_record_tells(monkeypatch, tmp_path, capsys):
    survey, harp = tmp_path / "survey", tmp_path / "harp"
    survey.mkdir()
    (survey / "survey.json").write_bytes(to_json(plain()))
    typed = (str(tmp_path), "record add done date", plain().title, "Hall me note json html jpg")
    typed += tuple(info.name for info in plain().recordings)
    weather = ("--humidity", "45", "--temperature", "19.5", "--photo", "Hall.jpg", "--who", "me", "--where", "Hall")
    with invented(monkeypatch):
        for words in (
            ("show", harp),
            ("add", harp),
            ("add", harp, survey, "--date", "2026-03-01", "--serial", "12", "--asset", "7", *weather),
            ("add", harp, survey, "--date", "2026-03-02"),
            ("add", harp, "--date", "2026-03-20", "--done", "Hall"),
            ("list", harp),
            ("show", harp),
            ("show", harp, "2026-03-01-001"),
            ("show", harp, "2026-03-01-009"),
        ):
            main(["record", *map(str, words), "--language", "de"])
        (harp / "entries" / "2026-03-01-001" / "survey" / "survey.json").unlink()
        main(["record", "show", str(harp), "--language", "de"])
    told = capsys.readouterr()
    assert words_left([*told.out.splitlines(), *told.err.splitlines()], *typed) == []
    assert "12" in told.out


@pytest.mark.parametrize(
    ("read", "name"),
    [(read_survey, "survey.json"), (read_kept, KEPT_FILE), (read_about, "record.json"), (read_plan, "plan.json")],
)
def test_a_file_of_a_later_version(monkeypatch, tmp_path, read, name):
    (tmp_path / name).write_text('{"schema": 99}', encoding="utf-8")
    (line,) = told(read, tmp_path / name if read is read_plan else tmp_path)
    assert "schema 99" in line
    assert left(monkeypatch, [line], str(tmp_path), name) == []


@pytest.mark.parametrize("kept", ['{"schema": 99}', '{"schema": 1}'])
def test_a_report_without_its_plan_says_why(monkeypatch, tmp_path, capsys, kept):
    (tmp_path / KEPT_FILE).write_text(kept, encoding="utf-8")
    with invented(monkeypatch):
        assert _kept(tmp_path) is None
    typed = "harp string survey Object missing required field fingerprint answers"  # the last as msgspec has it
    assert words_left([capsys.readouterr().err], str(tmp_path), KEPT_FILE, typed) == []


def test_the_place_is_told_too_and_names_stay_as_they_were_typed(tmp_path, capsys):
    (tmp_path / "a.wav").write_bytes(b"RIFF")
    (tmp_path / "harps.csv").write_text("instrument,recordings,layout\nHall: old,a.wav,lever-43\n", encoding="utf-8")
    out = str(tmp_path / "out")
    assert main(["batch", str(tmp_path / "harps.csv"), "--out", out, "--language", "de"]) == 2
    first, second = capsys.readouterr().err.splitlines()
    assert first.endswith("harps.csv: Nichts wurde begonnen. Ein Fehler:")
    assert second.startswith("  Zeile 2, Spalte 3 (layout): Unbekannte Besaitung 'lever-43'; eingebaut sind lever-22, ")
    assert second.endswith("War lever-38 gemeint?")
    assert main(["batch", str(tmp_path / "harps.csv"), "--out", out]) == 2
    assert "line 2, column 3 (layout): unknown layout 'lever-43'" in capsys.readouterr().err
