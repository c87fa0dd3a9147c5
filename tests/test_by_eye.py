"""The list to check by eye: every string under its kind, single strings for what was heard of them."""

from analyzer.by_eye import Seen, look_list
from analyzer.layout import load_layout

LAYOUT = load_layout("lever-34")
NAMES = [s.string for s in LAYOUT.strings]


def test_every_string_present_is_under_its_kind_at_the_stop_and_at_the_knot():
    rows = look_list(LAYOUT, [Seen(string=name, missing=name == "C4") for name in NAMES])
    assert rows[0].strings == ("C4",)
    kinds = [row for row in rows[1:] if "lever" not in row.what and "Knots" not in row.what]
    assert sorted(name for row in kinds for name in row.strings) == sorted(set(NAMES) - {"C4"})
    assert [len(row.strings) for row in rows if "lever touches" in row.what or "Knots" in row.what] == [33, 33]


def test_wound_strings_are_those_of_the_layout():
    wound = {s.string for s in LAYOUT.strings if s.material in ("wire", "wound nylon")}
    rows = look_list(LAYOUT, [Seen(string=name) for name in NAMES])
    assert wound
    assert {name for row in rows if row.what.startswith("Windings") for name in row.strings} == wound


def test_what_was_heard_comes_first_and_never_speaks_of_breaking():
    heard = [Seen(string=name, falls=name == "E3", dull=name in ("E3", "F5"), rattles=name == "G2") for name in NAMES]
    rows = look_list(LAYOUT, heard)
    assert [row.strings for row in rows[:3]] == [("E3",), ("G2",), ("E3", "F5")]
    assert not any("break" in row.what or "broken" in row.what for row in rows)


def test_a_pedal_harp_has_discs():
    layout = load_layout("pedal-47")
    rows = look_list(layout, [Seen(string=s.string) for s in layout.strings])
    assert any("disc touches" in row.what for row in rows)
    assert not any("lever touches" in row.what for row in rows)
