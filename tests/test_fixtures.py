"""The example files that the README names are read as they are; what they hold is invented."""

from pathlib import Path

import pytest

from analyzer.intake import Words
from analyzer.layout import load_layout
from analyzer.manifest import read_manifest
from analyzer.prices import read_prices

FIXTURES = Path(__file__).parents[1] / "fixtures"


@pytest.mark.parametrize("name", ["intake.csv", "intake-semicolons.csv"])
def test_the_lists_of_harps_are_read(name, tmp_path):
    for recording in ("room-3.m4a", "hall-bass.m4a", "hall-treble.m4a"):
        (tmp_path / recording).write_bytes(b"not looked at before work")
    (tmp_path / name).write_bytes((FIXTURES / name).read_bytes())
    lever, pedal = read_manifest(tmp_path / name, Words()).items
    assert (lever.instrument, lever.layout.name, lever.tuning.key) == (
        "Room 3 lever harp",
        "lever-34-C2-A6",
        "E-flat",
    )
    assert (pedal.layout.name, pedal.names) == ("pedal-47-C1-G7", ("hall-bass.m4a", "hall-treble.m4a"))


def test_the_price_list_is_read():
    prices = read_prices(FIXTURES / "prices.csv", load_layout("lever-34"))
    assert [(line.string, line.price) for line in prices.lines] == [("C4", 3.5), ("D4", 3.5), ("F6", 2.0)]


def test_the_harp_of_ones_own_is_read():
    harp = load_layout(str(FIXTURES / "own-harp.toml"))
    assert [s.string for s in harp.strings] == ["C4", "D4", "E4", "F4", "G4", "A4", "B4", "C5"]
    assert harp.strings[3].length_mm is None
