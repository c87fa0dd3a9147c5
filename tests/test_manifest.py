"""A batch's list is checked whole before work; identity is by name and recording, never by a cleaned name."""

import csv
import io
import os
import re

import pytest

from analyzer.errors import UnusableInput
from analyzer.folder import read_folder
from analyzer.intake import Words, identity
from analyzer.manifest import read_manifest
from analyzer.settings import BatchSettings

ALL = Words(layout="lever-34", tuning="E-flat")


@pytest.fixture
def sounds(tmp_path):
    """A folder with files that are there; what is in them is not looked at before work."""
    for name in ("a.wav", "b.wav", "c.wav"):
        (tmp_path / name).write_bytes(b"RIFF")
    return tmp_path


def manifest(folder, *rows, header="instrument,recordings,layout,tuning"):
    path = folder / "list.csv"
    path.write_text("\n".join([header, *rows]) + "\n", encoding="utf-8")
    return path


def problems(call, *given):
    with pytest.raises(UnusableInput) as caught:
        call(*given)
    return str(caught.value).splitlines()


def test_a_line_is_an_instrument_with_its_own_words_before_those_for_all(sounds):
    header = "Instrument,Recording,layout,tuning,A4,levers,date,place,humidity,note,missing"
    path = manifest(
        sounds,
        'Hall harp,a.wav;b.wav,lever-36,C,442,off,2026-03-01,"Room 2",45,"strings, old",C2',
        "Other,c.wav,,,,,,,,,",
        header=header,
    )
    first, second = read_manifest(path, ALL).items
    assert (first.instrument, first.names, first.layout.name) == ("Hall harp", ("a.wav", "b.wav"), "lever-36-C2-C7")
    assert (first.tuning.key, first.tuning.a4_hz, first.missing) == ("C", 442, ("C2",))
    assert (first.date, first.place, first.note) == ("2026-03-01", "Room 2", "strings, old")
    assert first.said["humidity"] == "45"
    assert (second.layout.name, second.tuning.key, second.missing) == ("lever-34-C2-A6", "E-flat", None)


def test_every_problem_is_listed_at_once_by_line_and_column(sounds):
    header = "instrument,recordings,layout,tuning,a4,date,humidity,missing"
    path = manifest(
        sounds,
        "One,a.wav,lever-43,E-falt,much,1/3/2026,110,",
        ",gone.wav,,,,,,",
        "Three,b.wav,,,,,,C9",
        "Four,c.wav,,,,,",
        header=header,
    )
    said = problems(read_manifest, path, ALL)
    assert "nothing was started" in said[0]
    assert "9 problems" in said[0]
    for start in (
        "line 2, column 3 (layout): ",
        "line 2, column 4 (tuning): ",
        "line 2, column 5 (a4): ",
        "line 2, column 6 (date): ",
        "line 2, column 7 (humidity): ",
        "line 3, column 1 (instrument): ",
        "line 3, column 2 (recordings): ",
        "line 4, column 8 (missing): ",
        "line 5: 7 cells where the first line has 8",
    ):
        assert sum(line.strip().startswith(start) for line in said) == 1, start


def test_lines_are_counted_as_an_editor_counts_them(sounds):
    path = manifest(sounds, 'One,a.wav,,"E-flat"', "", '"Two\nlines",b.wav,,', "Three,none.wav,,")
    said = problems(read_manifest, path, ALL)
    assert any(line.strip().startswith("line 4, column 1 (instrument)") for line in said)
    assert any(line.strip().startswith("line 6, column 2 (recordings)") for line in said)


@pytest.mark.parametrize(
    ("rows", "expected"),
    [
        (("Hall,a.wav,,", "Hall,b.wav,,"), "line 3.*'Hall' stands at line 2 too"),
        (("Hall,a.wav,,", "Room,a.wav,,"), "line 3.*'a.wav' is that of 'Hall' at line 2"),
        (("Hall,a.wav,,", "Room,./b/../a.wav,,"), "line 3.*that of 'Hall' at line 2"),
        (("Hall,a.wav;a.wav,,",), "line 2.*named twice"),
    ],
)
def test_collisions_are_refused(sounds, rows, expected):
    (sounds / "b").mkdir()
    assert re.search(expected, "\n".join(problems(read_manifest, manifest(sounds, *rows), ALL)))


def test_one_harp_on_two_days_is_two_surveys(sounds):
    header = "instrument,recordings,date"
    path = manifest(sounds, "Hall,a.wav,2026-03-01", "Hall,b.wav,2026-04-01", header=header)
    first, second = read_manifest(path, ALL).items
    assert first.key != second.key


def test_names_that_would_be_the_same_when_cleaned_stay_apart():
    """Each pair is one name to a program that keeps only letters, digits and hyphens, or lower case."""
    for one, other in (("Hall 1", "Hall-1"), ("a/b", "a b"), ("Ä", "A"), ("x", "X"), ("", "harp"), ("../x", "x")):
        assert identity(one, ["r.wav"]) != identity(other, ["r.wav"])
    assert identity("a", ["b", "c"]) != identity("a", ["b,c"])


@pytest.mark.parametrize("name", ["../../etc/x", "a\nb", "a\0b", "CON", "....", "/", "é" * 300, "\udcff", "a\\b"])
def test_a_results_folder_is_one_plain_name(name):
    key = identity(name, [name])
    assert key == "".join(c for c in key if c in "abcdefghijklmnopqrstuvwxyz0123456789-")
    assert 0 < len(key) <= BatchSettings().slug_n + 1 + BatchSettings().key_n


@pytest.mark.parametrize(
    ("content", "expected"),
    [
        (b"", "empty"),
        (
            b"instrument;recordings\nA;a.wav;b.wav\n",
            "line 2: 3 cells .* A cell that holds ';' stands in quotation marks",
        ),
        (b"instrument;recordings;colour\nA;a.wav;red\n", "column 3: unknown column 'colour'"),
        (b"instrument,recordings,colour\nA,a.wav,red\n", "column 3: unknown column 'colour'"),
        (b"instrument,instrument\nA,A\n", "there twice"),
        (b"recordings\na.wav\n", "no column 'instrument'"),
        (b"instrument,recordings\n", "no instrument"),
        (b"instrument,recordings\n\xff\xfe,a.wav\n", "UTF-8"),
        (b'instrument,recordings\nA,"a.wav\n', "line 2"),
        (b"instrument,recordings\nA\0,a.wav\n", "does not print"),
        (b"instrument,recordings\nA,a.wav\0\n", "does not print"),
        (b"instrument,recordings\n" + b"A" * 200_000 + b",a.wav\n", "line 2"),
        (b"instrument,recordings\nA,.\n", "folder"),
    ],
)
def test_files_that_are_no_manifest(sounds, content, expected):
    path = sounds / "list.csv"
    path.write_bytes(content)
    assert re.search(expected, "\n".join(problems(read_manifest, path, ALL)))


def test_sizes_are_bounded(sounds):
    path = manifest(sounds, *(f"H{k},a.wav,," for k in range(30)))
    assert "more than 20 lines" in problems(read_manifest, path, ALL, BatchSettings(manifest_lines_n=20))[0]
    assert "larger" in problems(read_manifest, path, ALL, BatchSettings(manifest_limit_bytes=50))[0]
    path.write_text(",".join(f"c{k}" for k in range(50_000)), encoding="utf-8")
    assert len(problems(read_manifest, path, ALL)) < 110


def test_the_words_for_all_only_count_where_they_fit(sounds):
    path = manifest(sounds, "Lever,a.wav,lever-34,", "Pedal,b.wav,pedal-47,")
    lever, pedal = read_manifest(path, Words(levers="off", pedals="flat")).items
    assert (lever.said.get("levers"), lever.said.get("pedals")) == ("off", None)
    assert (pedal.said.get("levers"), pedal.said.get("pedals")) == (None, "flat")


def test_what_spreadsheets_write_is_read_back(sounds):
    """RFC 4180 quoting, a byte order mark and CRLF, as written by the csv module's Excel dialect."""
    out = io.StringIO()
    csv.writer(out, dialect="excel").writerows([["instrument", "recordings"], ['The "old" one, hall', "a.wav"]])
    (sounds / "list.csv").write_bytes(b"\xef\xbb\xbf" + out.getvalue().encode())
    assert read_manifest(sounds / "list.csv", ALL).items[0].instrument == 'The "old" one, hall'


def test_what_a_spreadsheet_with_a_decimal_comma_writes_is_read_too(sounds):
    """Semicolons between the cells, as the csv module writes them: what holds one is quoted (RFC 4180)."""
    out = io.StringIO()
    csv.writer(out, delimiter=";").writerows(
        [
            ["instrument", "recordings", "a4", "humidity", "missing", "note"],
            ["Saal, links", "a.wav;b.wav", "442,5", "45,5", "F6,E2", "Saiten, alt"],
            ["Rechts", "c.wav", "", "", "", ""],
        ]
    )
    (sounds / "list.csv").write_bytes(b"\xef\xbb\xbf" + out.getvalue().encode())
    first, second = read_manifest(sounds / "list.csv", ALL).items
    assert (first.instrument, first.names, first.missing) == ("Saal, links", ("a.wav", "b.wav"), ("F6", "E2"))
    assert (first.tuning.a4_hz, first.humidity, first.note) == (442.5, "45.5", "Saiten, alt")
    assert (second.names, second.tuning.a4_hz) == (("c.wav",), 440)


def test_what_is_wrong_in_many_lines_is_said_once(sounds):
    rows = [f"Harp {n},a.wav,{'lever-43' if n != 3 else 'lever-34'},{'3/1/2026' if n == 2 else ''}" for n in range(5)]
    said = problems(read_manifest, manifest(sounds, *rows, header="instrument,recordings,layout,date"), ALL)
    assert "2 problems" in said[0]
    assert [line.split(": ")[0].strip() for line in said[1:]] == [
        "lines 2-4, 6, column 3 (layout)",
        "line 4, column 4 (date)",
    ]


def test_one_problem_twice_in_a_cell_is_said_once(sounds):
    said = problems(read_manifest, manifest(sounds, "Hall,gone.wav;gone.wav", header="instrument,recordings"), ALL)
    assert [line.split(": ")[0].strip() for line in said[1:]] == ["line 2, column 2 (recordings)"] * 2
    assert sum("there is no file" in line for line in said) == 1


@pytest.mark.parametrize(
    ("typed", "day"), [("1.3.2026", "2026-03-01"), ("24.12.2026", "2026-12-24"), ("2026-03-01", "2026-03-01")]
)
def test_a_day_with_dots_is_read_as_spreadsheets_write_it(sounds, typed, day):
    path = manifest(sounds, f"Hall,a.wav,{typed}", header="instrument,recordings,date")
    assert read_manifest(path, ALL).items[0].date == day


def test_a_day_with_dots_that_is_none_is_refused(sounds):
    path = manifest(sounds, "Hall,a.wav,12.24.2026", header="instrument,recordings,date")
    assert "'12.24.2026' is no day" in "\n".join(problems(read_manifest, path, ALL))


def test_commas_in_the_first_line_say_that_semicolons_part_no_cells(sounds):
    assert "'442,5' is no frequency" in "\n".join(
        problems(read_manifest, manifest(sounds, 'Hall,a.wav;b.wav,"442,5"', header="instrument,recordings,a4"), ALL)
    )


def touch(folder, *names):
    for name in names:
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(b"RIFF")


def test_a_folder_works_by_its_names(tmp_path):
    touch(
        tmp_path,
        "lever-36/hall 2026-03-01.wav",
        "lever-36/hall-2.WAV",
        "lever-36/pedal-47 loft.m4a",
        "attic part 1.mp3",
        "attic part 2.mp3",
        "F-sharp_(old).flac",
        ".hidden.wav",
        "notes.txt",
    )
    found = read_folder(tmp_path, ALL)
    seen = {item.instrument: item for item in found.items}
    assert set(seen) == {
        "attic",
        "lever-36/hall 2026-03-01",
        "lever-36/hall-2",
        "lever-36/pedal-47 loft",
        "F-sharp_(old)",
    }
    assert seen["attic"].names == ("attic part 1.mp3", "attic part 2.mp3")
    assert seen["attic"].layout.name == "lever-34-C2-A6"
    assert seen["lever-36/hall 2026-03-01"].layout.name == "lever-36-C2-C7"
    assert seen["lever-36/hall 2026-03-01"].date == "2026-03-01"
    assert seen["lever-36/pedal-47 loft"].layout.name == "pedal-47-C1-G7"
    assert seen["F-sharp_(old)"].tuning.key == "F-sharp"
    assert found.passed_over_n == 1


def test_a_folder_that_gives_one_harp_twice_or_no_layout_is_refused_whole(tmp_path):
    touch(tmp_path, "a.wav", "a.flac", "b.wav", "c.wav")
    said = problems(read_folder, tmp_path, Words())
    assert "3 problems" in said[0]
    assert sum("layout" in line for line in said[1:]) == 2
    assert sum("same harp" in line for line in said[1:]) == 1


def test_an_empty_folder_says_so(tmp_path):
    assert "no recording" in problems(read_folder, tmp_path, ALL)[0]


@pytest.mark.skipif(os.name == "nt", reason="links need rights there")
def test_links_out_of_the_folder_are_not_opened(tmp_path):
    touch(tmp_path, "outside/secret.wav", "outside/more/deep.wav", "in/a.wav")
    (tmp_path / "in" / "b.wav").symlink_to("../outside/secret.wav")
    (tmp_path / "in" / "c.wav").symlink_to("a2.wav")
    (tmp_path / "in" / "d").symlink_to("../outside/more", target_is_directory=True)
    found = read_folder(tmp_path / "in", ALL)
    assert [item.instrument for item in found.items] == ["a", "c"]
    assert [name for name, _ in found.refused] == ["b.wav"]
