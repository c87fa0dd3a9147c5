"""Layouts: the built-in ones against what is published of harps, and files of one's own with every kind of mistake."""

import re
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analyzer.errors import UnusableInput
from analyzer.layout import (
    check_layout,
    describe_layout,
    describe_layouts,
    list_layouts,
    load_layout,
    string_colour,
)
from analyzer.notes import note_at_step
from analyzer.settings import LayoutSettings
from tests import make_layouts

ROWS = 'kind = "lever"\nstrings = [\n{}\n]\n'


def write(folder: Path, text: str) -> Path:
    path = folder / "mine.toml"
    path.write_text(text, encoding="utf-8")
    return path


def rows(*strings: str) -> str:
    return ROWS.format("\n".join(f"  {{ {s} }}," for s in strings))


def test_the_built_in_files_are_what_their_derivation_gives() -> None:
    shipped = {p.name: p.read_text(encoding="utf-8") for p in make_layouts.FOLDER.glob("*.toml")}
    assert shipped == make_layouts.all_files(), "run: python -m tests.make_layouts"


def test_every_built_in_layout_has_the_count_and_range_of_its_name() -> None:
    for layout in list_layouts():
        kind, count, low, high = layout.name.removesuffix("-heavy").split("-")
        strings = [s.string for s in layout.strings]
        assert (layout.kind, len(strings), strings[0], strings[-1]) == (kind, int(count), low, high)
        assert layout.basis == "generic estimate"


@pytest.mark.parametrize(
    ("name", "full"),
    [
        # 47: C1–G7, 46: D1–G7, 44: D1–E7 published; the lever ranges from memory
        ("pedal-47", "pedal-47-C1-G7"),
        ("pedal-46", "pedal-46-D1-G7"),
        ("pedal-44", "pedal-44-D1-E7"),
        ("lever-26", "lever-26-C3-G6"),
        ("lever-29", "lever-29-G2-G6"),
        ("lever-33", "lever-33-C2-G6"),
        ("lever-34", "lever-34-C2-A6"),
        ("Lever 34", "lever-34-C2-A6"),
        ("lever-34-light", "lever-34-C2-A6"),
        ("lever-34-C2-A6-light", "lever-34-C2-A6"),
        ("lever-34-heavy", "lever-34-C2-A6-heavy"),
        ("lever-36", "lever-36-C2-C7"),
        ("lever-38", "lever-38-A1-C7"),
        ("lever-22-C4-C7", "lever-22-C4-C7"),
        ("lever-27-g2-e6", "lever-27-G2-E6"),
    ],
)
def test_built_in_layouts_go_by_name_and_by_short_name(name: str, full: str) -> None:
    assert load_layout(name).name == full


@pytest.mark.parametrize(
    ("name", "sentence"),
    [
        ("lever-22", "layout 'lever-22' may be lever-22-C3-C6 or lever-22-C4-C7; name the one whose range"),
        ("lever-27-heavy", "may be lever-27-C3-A6 or lever-27-G2-E6"),
        ("pedal-40", "may be pedal-40-A1-E7 or pedal-40-G1-D7"),
        ("lever-35", "unknown layout 'lever-35'; built in are lever-22, .*pedal-47.* Did you mean lever-3"),
        ("lver-34", "unknown layout 'lver-34'; .* Did you mean lever-34?"),
        ("pedal-47-light", "unknown layout 'pedal-47-light'"),
        ("pedal-47-heavy", "unknown layout 'pedal-47-heavy'"),
        ("", "unknown layout ''"),
        ("nowhere.toml", "nowhere.toml: cannot be read"),
        ("no/such/file", "file: cannot be read"),
    ],
)
def test_a_layout_not_known_is_refused_with_those_that_are(name: str, sentence: str) -> None:
    with pytest.raises(UnusableInput, match=sentence):
        load_layout(name)


def test_red_and_black_strings_are_where_every_harp_has_them() -> None:
    # common to lever and pedal harps: C red, F black or blue
    colours = {s.string: s.colour for s in load_layout("pedal-47").strings}
    assert {s for s, c in colours.items() if c == "red"} == {f"C{n}" for n in range(1, 8)}
    assert {s for s, c in colours.items() if c == "black"} == {f"F{n}" for n in range(1, 8)}


def test_wires_gut_and_nylon_are_where_published() -> None:
    # pedal: the lowest 12 (C1–G2) wires (Sibelius Academy), octave 1 nylon, gut between (typical, technician's guide)
    stuff = {s.string: s.material for s in load_layout("pedal-47").strings}
    assert [s for s, m in stuff.items() if m == "wire"] == list(stuff)[:12]
    assert (list(stuff)[11], stuff["A2"], stuff["E6"], stuff["F6"]) == ("G2", "gut", "gut", "nylon")
    # 36-string folk harp: 3–8 wires, then wound nylon, then plain
    folk = [s.material for s in load_layout("lever-36").strings]
    assert 3 <= folk.count("wire") <= 8
    assert sorted(folk, key=["wire", "wound nylon", "nylon"].index) == folk


def test_a_layout_of_ones_own_needs_only_kind_and_names(tmp_path: Path) -> None:
    layout = load_layout(str(write(tmp_path, rows('string = "b3"', 'string = "C4"', 'string = "D4", colour = "blue"'))))
    assert (layout.name, layout.title, layout.basis) == ("mine", "3-string harp, B3 to D4", "not given")
    assert [(s.string, s.material, s.colour) for s in layout.strings] == [
        ("B3", "unknown", "plain"),
        ("C4", "unknown", "red"),
        ("D4", "unknown", "blue"),
    ]


def test_rows_may_also_be_tables_of_their_own(tmp_path: Path) -> None:
    path = write(tmp_path, '\ufeffkind = "none"\n[[strings]]\nstring = "C4"\nmaterial = "brass"\nlength_mm = 400\n')
    assert load_layout(str(path)).strings[0].length_mm == 400.0


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        (rows('string = "C4"', 'string = "C4"'), "string C4 is listed 2 times; keep one row."),
        (
            rows('string = "D4"', 'string = "C4"'),
            "string C4 comes after D4 but is lower; list the lowest string first.",
        ),
        (rows('string = "C4"', 'string = "E4"'), "string D4 is left out between C4 and E4; give it a row"),
        (rows('string = "C4", length_mm = -5'), "string C4: length_mm = -5 is not between 0 and 3000"),
        (rows('string = "C4", diameter_mm = nan'), "string C4: diameter_mm = nan is not between 0 and 10"),
        (rows('string = "C4", mass_g_per_m = inf'), "string C4: mass_g_per_m = inf is not between 0 and 500"),
        (rows('string = "C4", length_mm = "long"'), "string C4: Expected `float | null`, got `str`"),
        (rows('string = "C4", lenght_mm = 5'), "string C4: unknown key 'lenght_mm'; .* Did you mean length_mm?"),
        (rows('string = "C4", material = "nylong"'), "string C4: unknown material 'nylong'; .* Did you mean nylon?"),
        (rows('string = "C4", colour = "pink"'), "string C4: Invalid enum value 'pink'"),
        (rows('string = "C4", diameter_mm = 1, core_diameter_mm = 2'), "core .2 mm. is thicker than the whole .1 mm"),
        (rows('string = "Eb4"'), "string Eb4: a string is named by letter and octave; write E4."),
        (rows('string = "H4"'), "string H4: 'H4' is not a note"),
        (rows('material = "gut"'), "string in row 1: '' is not a note"),
        (ROWS.format(""), "0 strings; list 1 to 100"),
        ('strings = [{string = "C4"}]', "there is no line for 'kind'"),
        ('kind = "lyre"\nstrings = [{string = "C4"}]', "Invalid enum value 'lyre' in 'kind'"),
        ('kind = "lever"\nstrngs = []', "unknown key 'strngs'; .* Did you mean strings?"),
        ('kind = "lever"\nstrings = ["C4"]', "Expected `object`, got `str`"),
        ("kind = ", "not valid TOML"),
    ],
)
def test_a_mistake_in_a_file_is_one_sentence_naming_file_and_string(tmp_path: Path, text: str, sentence: str) -> None:
    path = write(tmp_path, text)
    pattern = re.escape(f"{path}: ") + ".*" + sentence.replace("`", "'").replace("|", r"\|").replace("?", r"\?")
    with pytest.raises(UnusableInput, match=pattern):
        load_layout(str(path))


def test_all_mistakes_of_a_file_are_listed(tmp_path: Path) -> None:
    path = write(tmp_path, rows('string = "C4", length_mm = 0', 'string = "D4", material = "gutt"'))
    first, second = check_layout(path)
    assert "string C4: length_mm" in first
    assert "string D4: unknown material 'gutt'" in second
    with pytest.raises(UnusableInput, match=r"string C4.*\(1 more in this file\)"):
        load_layout(str(path))
    assert check_layout(write(tmp_path, rows('string = "C4"'))) == ()


def test_files_that_are_no_layout_are_refused(tmp_path: Path) -> None:
    big = write(tmp_path, "#" * (LayoutSettings().file_limit_bytes + 1))
    assert "larger than any layout" in check_layout(big)[0]
    binary = tmp_path / "binary.toml"
    binary.write_bytes(b"\xff\xfe\x00")
    assert "not UTF-8" in check_layout(binary)[0]
    assert "cannot be read" in check_layout(tmp_path)[0] or "not valid" in check_layout(tmp_path)[0]


@settings(deadline=None)
@given(st.integers(0, 60), st.integers(1, 47), st.data())
def test_any_run_of_letters_is_a_layout_and_without_one_of_its_strings_is_not(
    tmp_path_factory: pytest.TempPathFactory, low: int, count: int, data: st.DataObject
) -> None:
    names = [str(note_at_step(low + i)) for i in range(count) if low + i < 70]
    lengths = data.draw(st.lists(st.floats(1, 3000), min_size=len(names), max_size=len(names)))
    cells = [f'string = "{s}", length_mm = {mm!r}' for s, mm in zip(names, lengths, strict=True)]
    folder = tmp_path_factory.mktemp("layout")
    layout = load_layout(str(write(folder, rows(*cells))))
    assert [(s.string, s.length_mm) for s in layout.strings] == list(zip(names, lengths, strict=True))
    assert all(s.colour == string_colour(s.string[0]) for s in layout.strings)
    if len(names) > 2:
        gap = data.draw(st.integers(1, len(names) - 2))
        broken = write(folder, rows(*(c for i, c in enumerate(cells) if i != gap)))
        assert any(f"string {names[gap]} is left out" in problem for problem in check_layout(broken))


def test_the_list_names_every_layout_and_its_short_name() -> None:
    text = "\n".join(describe_layouts())
    assert "lever-34-C2-A6        34-string lever harp, C2 to A6, light stringing (also lever-34)\n" in text
    assert "lever-34-C2-A6-heavy  34-string lever harp, C2 to A6, heavy stringing\n" in text
    assert "pedal-40-A1-E7        40-string pedal harp, A1 to E7 (range unconfirmed, from memory)\n" in text
    assert "generic estimates" in text
    assert [line.split()[0] for line in describe_layouts()[:25]] == [layout.name for layout in list_layouts()]


def test_a_layout_is_shown_string_by_string(tmp_path: Path) -> None:
    layout = load_layout(
        str(write(tmp_path, rows('string = "C4", length_mm = 400, material = "gut"', 'string = "D4"')))
    )
    assert describe_layout(layout) == (
        "mine: 2-string harp, C4 to D4",
        "kind: lever; lengths and gauges: not given",
        "",
        "string  harp  colour  material      length mm  diameter mm      g/m  core mm",
        "C4      4C    red     gut                 400",
        "D4      4D    plain   unknown",
    )
