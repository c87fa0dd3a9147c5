from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from analyzer.answers import Answers
from analyzer.errors import UnusableInput
from analyzer.layout import load_layout
from analyzer.prices import amount, read_prices
from analyzer.purchases import Purchase, string_names, stringing, what_to_buy
from analyzer.survey import Survey
from analyzer.tuning import make_tuning
from tests.example_survey import example_survey
from tests.survey_of import survey_of

LEVER = load_layout("lever-34")
GONE = {"status": "not heard", "cents": None, "verdict": "cannot judge"}
CHANGES: dict[str, dict[str, Any]] = {
    "A3": GONE,
    "F6": GONE,
    "F4": {"verdict": "false", "false_probability": 0.9},
    "C5": {"verdict": "dull", "dull_probability": 0.95, "decay_s": 0.8, "expected_decay_s": 1.7},
    "D5": {"verdict": "dull", "dull_probability": 0.6},
}
LOOKED = Answers(inspected="good", confirm_all=True)


def worn(changes: dict[str, dict[str, Any]] | None = None) -> Survey:
    return survey_of(LEVER, make_tuning(LEVER), {s.string: -50.0 for s in LEVER.strings}, changes or CHANGES)


def listed(tmp_path: Path, text: str) -> Path:
    file = tmp_path / "prices.csv"
    file.write_text(text, encoding="utf-8")
    return file


def heard_instead(survey: Survey, **taken: tuple[str, float]) -> Survey:
    """The survey with a sound for each: taken for the string given, but of this one with that probability."""
    pluck = example_survey().plucks[0]
    plucks = tuple(
        replace(pluck, string=other, confidence=1 - chance, also_possible=((string, chance),))
        for string, (other, chance) in taken.items()
    )
    return replace(survey, plucks=plucks)


def brief(rows: tuple[Purchase, ...]) -> list[tuple[str, str]]:
    return [(p.string, p.reason) for p in rows]


def test_missing_first_then_false_then_dull_by_sureness_then_spares() -> None:
    rows = what_to_buy(worn(), LOOKED)
    assert brief(rows) == [
        ("A3", "missing"),
        ("F6", "missing"),
        ("F4", "false"),
        ("C5", "dull"),
        ("D5", "dull"),
        ("F6", "spare"),
    ]
    assert [p.urgency for p in rows[::2]] == ["first", "soon", "when money allows"]
    assert "0.8 s where its neighbours lead one to expect 1.7 s" in rows[3].remark
    assert all(p.price is None and p.running_total is None for p in rows)


def test_a_string_not_heard_is_bought_only_once_somebody_looked() -> None:
    assert "A3" not in {p.string for p in what_to_buy(worn(), Answers(inspected="good"))}
    assert "A3" in {p.string for p in what_to_buy(worn(), Answers(confirmed=("A3",)))}
    assert "A3" not in {p.string for p in what_to_buy(worn(), replace(LOOKED, fitted={"A3": "2026-03-01"}))}


def test_both_numberings_and_no_gauge_from_an_estimate() -> None:
    # a harp technician's guide: C3 is 5C
    assert string_names("C3") == "5C, fifth-octave C"
    assert string_names("G7") == "0G, top-octave G"
    assert all(p.gauge_mm is None for p in what_to_buy(worn(), LOOKED))
    measured = replace(worn(), layout=replace(LEVER, basis="measured"))
    gauges = {p.string: p.gauge_mm for p in what_to_buy(measured, LOOKED)}
    assert gauges["F6"] == next(s.diameter_mm for s in LEVER.strings if s.string == "F6")


@pytest.mark.parametrize(
    ("layout", "kind"), [("lever-34", "light"), ("lever-34-heavy", "lever gut"), ("pedal-47", "concert")]
)
def test_kind_of_stringing(layout: str, kind: str) -> None:
    assert stringing(load_layout(layout)) == kind


def test_the_budget_reaches_as_far_as_it_can(tmp_path: Path) -> None:
    prices = read_prices(listed(tmp_path, "string,price\nA3,9.50\nF6,4.00\nF4,6\n4C,5.25\nC5,5.00\nD5,4.75\n"), LEVER)
    rows = what_to_buy(worn(), LOOKED, prices, 20.0)
    assert [(p.string, p.reason, p.price, p.running_total) for p in rows] == [
        ("F6", "missing", 4.0, 4.0),
        ("A3", "missing", 9.5, 13.5),
        ("F4", "false", 6.0, 19.5),
        ("C5", "dull", 5.0, None),
        ("D5", "dull", 4.75, None),
        ("F6", "spare", 4.0, None),
    ]
    assert [p.urgency for p in rows[3:]] == ["later: over the budget"] * 3


def test_no_spare_is_bought_while_a_string_to_be_put_on_is_over_the_budget(tmp_path: Path) -> None:
    prices = read_prices(listed(tmp_path, "string,price\nA3,19.50\nF6,4.00\n"), LEVER)
    survey = worn({"A3": GONE, "F6": GONE})
    short = what_to_buy(survey, LOOKED, prices, 20.0)
    assert [(p.string, p.reason, p.running_total) for p in short] == [
        ("F6", "missing", 4.0),
        ("A3", "missing", None),
        ("F6", "spare", None),
    ]
    assert short[2].urgency == "later: over the budget"
    assert short[2].remark.endswith("until the budget reaches all strings that are to be put on.")
    assert [p.running_total for p in what_to_buy(survey, LOOKED, prices, 27.5)] == [4.0, 23.5, 27.5]
    dull = worn({"F6": GONE, "A3": {"verdict": "dull", "dull_probability": 0.9}})  # it still plays
    assert [(p.string, p.reason) for p in what_to_buy(dull, LOOKED, prices, 20.0) if p.running_total] == [
        ("F6", "missing"),
        ("F6", "spare"),
    ]


def test_a_string_that_is_not_on_the_list_is_still_listed(tmp_path: Path) -> None:
    rows = what_to_buy(worn(), LOOKED, read_prices(listed(tmp_path, "string,price\nF6,4.00\n"), LEVER), 100.0)
    by_string = {p.string: p for p in rows if p.reason != "spare"}
    assert (by_string["A3"].price, by_string["A3"].running_total) == (None, None)
    assert by_string["A3"].remark.endswith("It is not on your price list.")


def test_bass_wires_come_as_a_set(tmp_path: Path) -> None:
    dull = {"verdict": "dull", "dull_probability": 0.9}
    survey = worn({"C2": dull, "D2": dull, "E2": dull, "C5": dull})
    text = "string,price\nbass wires,60\nC2,20\nD2,20\nE2,20\nC5,5\n"
    rows = what_to_buy(survey, LOOKED, read_prices(listed(tmp_path, text), LEVER))
    assert sorted(p.price or 0.0 for p in rows) == [0.0, 0.0, 5.0, 60.0]
    assert max(p.running_total or 0.0 for p in rows) == 65.0
    assert sum("as one set" in p.remark for p in rows) == 1
    beyond = what_to_buy(survey, LOOKED, read_prices(listed(tmp_path, text), LEVER), 10.0)
    assert [p.string for p in beyond if p.running_total is not None] == ["C5"]
    single = what_to_buy(worn({"C2": dull}), LOOKED, read_prices(listed(tmp_path, text), LEVER))
    assert [p.price for p in single] == [20.0]


def test_the_line_that_fits_material_and_stringing_is_taken(tmp_path: Path) -> None:
    text = "string,price,material,stringing\nF6,9,gut,\nF6,3,nylon,concert\nF6,4,nylon,light\n"
    rows = what_to_buy(worn({"F6": GONE}), LOOKED, read_prices(listed(tmp_path, text), LEVER))
    assert [p.price for p in rows] == [4.0, 4.0]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("string,prise\nC4,5\n", "unknown column 'prise'.*Did you mean price"),
        ("string,price,shop\nC4,5,x\n", "unknown column 'shop'"),
        ("string,material\nC4,gut\n", "no column 'price'"),
        ("string;price\nC4;5,5,5\n", "write a dot"),
        ("string,price,price\nC4,5,5\n", "named twice"),
        ("", "no column"),
        ("string,price\nC4,€5.00\n", "line 2, price: '€5.00'.*leave out '€'"),
        ("string,price\nC4,$5\n", r"leave out '\$'"),
        ("string,price\nC4,5 EUR\n", "leave out 'EUR'"),
        ('string,price\nC4,"5,50"\n', "write a dot"),
        ("string,price\nC4,-5\n", "from 0 up"),
        ("string,price\nC4,\n", "write a number"),
        ("string,price\nC4,5,6\n", "3 cells"),
        ("string,price\nC9,5\n", "line 2: 'C9' is not on this harp"),
        ("string,price\nC4,5\n4C,6\n", "C4 is listed on lines 2 and 3"),
        ("string,price\nbass wires,5\nbass wires,6\n", "listed twice"),
        ("string,price,material\nC4,5,gutt\n", "unknown material 'gutt'.*gut"),
        ("string,price,stringing\nC4,5,heavy\n", "unknown stringing"),
        ('string,price\n"C4,5\n', "not a CSV"),
    ],
)
def test_a_price_list_that_cannot_be_used(tmp_path: Path, text: str, words: str) -> None:
    with pytest.raises(UnusableInput, match=words):
        read_prices(listed(tmp_path, text), LEVER)


def test_one_list_serves_harps_of_different_sizes(tmp_path: Path) -> None:
    file = listed(tmp_path, "string,price\nA7,3.00\nF7,3.20\nC1,40\nG0,52\nC4,5\n")
    prices = read_prices(file, LEVER)
    by_name = {s.string: prices.line_for(s, "light") for s in LEVER.strings}
    assert [(name, line.price) for name, line in by_name.items() if line] == [("C4", 5.0)]
    with pytest.raises(UnusableInput, match="'string 35' is not on this harp"):
        read_prices(listed(tmp_path, "string,price\nstring 35,5\n"), LEVER)


def test_a_list_from_a_spreadsheet_with_decimal_commas(tmp_path: Path) -> None:
    prices = read_prices(listed(tmp_path, "string;price\nC4;24,50\nD4;3\nE4;1.25\n"), LEVER)
    assert [line.price for line in prices.lines] == [24.5, 3.0, 1.25]


def test_files_that_are_no_price_lists(tmp_path: Path) -> None:
    with pytest.raises(UnusableInput, match="cannot be read"):
        read_prices(tmp_path / "none.csv", LEVER)
    (tmp_path / "prices.csv").write_bytes(b"string,price\nC4,\xa35\n")
    with pytest.raises(UnusableInput, match="UTF-8"):
        read_prices(tmp_path / "prices.csv", LEVER)
    (tmp_path / "prices.csv").write_bytes(b"x" * 2_000_000)
    with pytest.raises(UnusableInput, match="larger"):
        read_prices(tmp_path / "prices.csv", LEVER)
    with pytest.raises(UnusableInput, match="more than"):
        read_prices(listed(tmp_path, "string,price\n" + "C4,5\n" * 6000), LEVER)


def test_amounts() -> None:
    assert amount(" 12.50 ", "--budget") == 12.5
    with pytest.raises(UnusableInput, match="--budget: '£20'"):
        amount("£20", "--budget")


def test_all_confirmed_at_once_makes_no_string_surer_missing_than_it_was_read() -> None:
    survey = heard_instead(worn(), A3=("B3", 0.46), F6=("E6", 0.02))
    sure = {p.string: p.confidence for p in what_to_buy(survey, LOOKED) if p.reason == "missing"}
    assert sure == {"A3": pytest.approx(0.54), "F6": pytest.approx(0.98)}
    by_name = what_to_buy(survey, replace(LOOKED, confirmed=("A3",)))
    assert {p.string: p.confidence for p in by_name if p.reason == "missing"}["A3"] == 1.0
    said = replace(survey, said={"missing": "A3"})
    assert {p.string: p.confidence for p in what_to_buy(said, LOOKED) if p.reason == "missing"}["A3"] == 1.0


def test_a_dull_string_that_rings_on_is_not_said_to_cost_length_by_figures_that_show_none() -> None:
    dull = {"verdict": "dull", "dull": True, "dull_probability": 0.9, "expected_decay_s": 2.4}
    survey = worn({"C4": {**dull, "decay_s": 2.6}, "D4": {**dull, "decay_s": 1.2}})
    remarks = {p.string: p.remark for p in what_to_buy(survey, Answers()) if p.reason == "dull"}
    assert remarks["C4"] == "Kept, it costs brightness and length of sound, nothing else."
    assert "rings 1.2 s" in remarks["D4"]
