"""`harp-survey batch` as a script meets it: the contract's tables, one page, sentences, exit codes."""

import csv
import re
from dataclasses import replace
from html.parser import HTMLParser

import numpy as np
import pytest

from analyzer.cli import main
from analyzer.collection import Outcome
from analyzer.collection_tables import buy_csv, collect, instruments_csv
from analyzer.collection_words import cost
from analyzer.doubts import RAISED
from analyzer.finished import SCHEMA, Record
from analyzer.intake import Found, Words, make_item
from analyzer.layout import load_layout
from analyzer.prices import Prices
from analyzer.report import collection_page
from analyzer.survey import Doubt
from analyzer.triage import line_of
from analyzer.tuning import make_tuning
from tests.survey_of import survey_of
from tests.tiny_harps import write_layout, write_recording

COLUMNS = (
    "instrument,date,layout,heard,not_heard,uncertain,median_abs_cents,worst_cents,dull,false_strings,passes,load_share,"
    "purchase_total,recording_quality,report"
).split(",")


def rows(path):
    with path.open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


@pytest.fixture(scope="module")
def home(tmp_path_factory):
    home = tmp_path_factory.mktemp("home")
    write_layout(home)
    write_recording(home / "in" / "Room 1" / "harp.flac", 1, missing=("A4",))
    write_recording(home / "in" / "Room-1" / "harp.flac", 2)
    (home / "in" / "bad.wav").write_bytes(b"RIFF, and then nothing of the kind")
    (home / "prices.csv").write_text("string,price\nA4,4.50\nC5,3\n", encoding="utf-8")
    (home / "list.csv").write_text(
        "instrument,recordings,layout,missing,date,place,note\n"
        '"=Hall",in/Room 1/harp.flac,tiny.toml,A4,2026-03-01,Room 1,"two, old"\n'
        "Other,in/Room-1/harp.flac,tiny.toml,none,2026-03-02,<b>Loft</b>,\n",
        encoding="utf-8",
    )
    return home


@pytest.fixture(scope="module")
def out(home):
    words = ["batch", str(home / "list.csv"), "--out", str(home / "out"), "--tuning", "E-flat", "--levers", "off"]
    assert main([*words, "--prices", str(home / "prices.csv"), "--workers", "1"]) == 0
    return home / "out"


def test_results_that_somebody_signed_are_not_written_over(home, tmp_path, capsys):
    (tmp_path / "collection.html").write_text("<p>fine", encoding="utf-8")
    assert main(["sign", str(tmp_path), "--by", "A. Tester"]) == 0
    assert main(["batch", str(home / "list.csv"), "--out", str(tmp_path), "--tuning", "E-flat"]) == 2
    assert "signed by A. Tester, and new files would undo that" in capsys.readouterr().err
    assert main(["verify", str(tmp_path)]) == 0


def test_the_contracts_columns_stand_first(out):
    table = rows(out / "instruments.csv")
    assert list(table[0])[: len(COLUMNS)] == COLUMNS
    assert (out / "failures.csv").read_text(encoding="utf-8").startswith("recording,reason")


def test_an_instruments_row_is_what_its_own_tables_say(out):
    """Recomputed from its strings.csv."""
    for row in rows(out / "instruments.csv"):
        strings = rows((out / row["report"]).parent / "strings.csv")
        cents = np.array([float(s["cents"]) for s in strings if s["cents"]])
        assert float(row["median_abs_cents"]) == pytest.approx(np.median(abs(cents)), abs=0.011)
        assert float(row["worst_cents"]) == pytest.approx(cents[abs(cents).argmax()], abs=0.011)
        for column, status in (("heard", "heard"), ("not_heard", "not heard"), ("uncertain", "uncertain")):
            assert int(row[column]) == sum(s["status"] == status for s in strings)
        assert int(row["dull"]) == sum(s["dull"] == "true" for s in strings)
        assert int(row["verdict_dull"]) == sum(s["verdict"] == "dull" for s in strings)
        assert (out / row["report"]).is_file()
        assert 0 < float(row["load_share"]) <= 1.2


def test_purchases_are_totalled_by_the_price_list(out):
    assert {r["instrument"]: r["purchase_total"] for r in rows(out / "instruments.csv")} == {
        "'=Hall": "4.50",
        "Other": "0.00",
    }
    (buy,) = rows(out / "buy.csv")
    assert (buy["string"], buy["count"], buy["missing"], buy["total"], buy["instruments"]) == (
        "A4",
        "1",
        "1",
        "4.50",
        "'=Hall",
    )


class _Page(HTMLParser):
    """Tags and links of a page; an unknown entity or a stray tag shows in the counts."""

    def __init__(self):
        super().__init__()
        self.tags, self.links = [], []

    def handle_starttag(self, tag, attributes):
        self.tags.append(tag)
        self.links += [value for name, value in attributes if name in ("href", "src")]


def test_the_page_asks_no_network_and_escapes_what_was_typed(out):
    text = (out / "collection.html").read_text(encoding="utf-8")
    page = _Page()
    page.feed(text)
    assert "b" not in page.tags
    assert "&lt;b&gt;Loft&lt;/b&gt;" in text
    assert not re.search(r"https?://|//[a-z]", " ".join(page.links))
    assert "default-src &#39;none&#39;" in text or "default-src 'none'" in text
    for link in page.links:
        assert link == "data:," or (out / link).exists(), link


def test_a_folder_with_a_bad_recording_is_done_all_the_same(home, tmp_path, capsys):
    words = ["batch", str(home / "in"), "--out", str(tmp_path / "out"), "--layout", str(home / "tiny.toml")]
    assert main([*words, "--workers", "1", "--reports", "none"]) == 0
    table = rows(tmp_path / "out" / "instruments.csv")
    assert {r["instrument"] for r in table} == {"Room 1/harp", "Room-1/harp"}
    assert {r["report"] for r in table} == {""}
    (failure,) = rows(tmp_path / "out" / "failures.csv")
    assert failure["recording"] == "bad.wav"
    assert failure["reason"].endswith(".")
    said = capsys.readouterr().err
    assert "2 instruments surveyed" in said
    assert "1 recording gave nothing" in said
    assert main([*words, "--workers", "1", "--reports", "none"]) == 0
    assert "2 of them finished before" in capsys.readouterr().err


def test_a_batch_of_which_nothing_came_says_so_to_a_script_too(home, tmp_path, capsys):
    (tmp_path / "in").mkdir()
    for name in ("one.wav", "two.wav"):
        (tmp_path / "in" / name).write_bytes((home / "in" / "bad.wav").read_bytes())
    out = tmp_path / "out"
    words = ["batch", str(tmp_path / "in"), "--out", str(out), "--layout", str(home / "tiny.toml"), "--workers", "1"]
    assert main(words) == 3
    said = capsys.readouterr().err
    assert said.count("\n") == 1
    assert str(out / "failures.csv") in said
    assert [r["recording"] for r in rows(out / "failures.csv")] == ["one.wav", "two.wav"]
    assert rows(out / "instruments.csv") == []


def test_a_full_report_is_the_one_that_analyze_makes(home, tmp_path):
    words = ["batch", str(home / "in" / "Room-1"), "--out", str(tmp_path / "out"), "--layout", str(home / "tiny.toml")]
    assert main([*words, "--workers", "1", "--reports", "full"]) == 0
    (row,) = rows(tmp_path / "out" / "instruments.csv")
    folder = (tmp_path / "out" / row["report"]).parent
    assert list((folder / "figures").glob("*.svg"))
    assert "<svg" in (folder / "report.html").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        ((), r"nothing was started"),
        (("--layout", "lever-43"), r"lever-34"),
        (("--layout", "lever-34", "--limit-seconds", "0"), r"--limit-seconds 0"),
        (("--layout", "lever-34", "--workers", "-1"), r"--workers -1"),
        (("--layout", "lever-34", "--prices", "none.csv"), r"none\.csv"),
        (("--layout", "lever-34", "--date", "1/3/2026"), r"2026-03-01"),
    ],
)
def test_words_that_cannot_be_used_start_nothing(home, tmp_path, capsys, words, expected):
    assert main(["batch", str(home / "in"), "--out", str(tmp_path / "out"), *words]) == 2
    assert re.search(expected, capsys.readouterr().err)
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize("name", ["gone", "gone\0", "a\nb", "x" * 5000])
def test_a_source_that_is_not_there(tmp_path, capsys, name):
    assert main(["batch", name, "--out", str(tmp_path / "out")]) == 2
    assert capsys.readouterr().err.count("\n") == 1


def survey(changes=None, cents=-20.0, missing=()):
    layout = load_layout("lever-22-C4-C7")
    tuning = make_tuning(layout, "E-flat", levers="off")
    off = {s.string: None if s.string in missing else cents for s in layout.strings}
    return survey_of(layout, tuning, off, changes)


def test_what_needs_work_first_comes_first():
    """The order of needs, each made plain by one kind of fault."""
    dull = {"C5": {"dull": True, "verdict": "dull", "dull_probability": 0.9}}
    unsure = {s.string: {"status": "uncertain"} for s in load_layout("lever-22-C4-C7").strings[:16]}
    sharp = {"C5": {"cents": 130.0}}
    cases = {
        "nothing": survey(cents=1.0),
        "tuning": survey(cents=-20.0),
        "worn strings": survey(dull),
        "slack": survey(cents=-150.0),
        "strings missing": survey(missing=("C5", "D5")),
        "record again": survey(unsure),
        "too tight": survey(sharp),
    }
    lines = {need: line_of(one, None) for need, one in cases.items()}
    assert {need: line.need for need, line in lines.items()} == {need: need for need in cases}
    found, outcomes = collection_of(lines)
    assert [row.line.need for row in collect(found, outcomes, priced=False).rows] == list(reversed(cases))
    assert lines["slack"].why.startswith("Half of the strings are more than 1.5 semitones off")
    assert lines["strings missing"].passes_n is not None
    assert lines["too tight"].why.endswith("let down first.")


def test_a_harp_whose_recording_can_be_read_in_another_way_comes_early_and_without_figures():
    doubt = (Doubt(code="semitone above", sentence="A question."),)
    doubted = line_of(replace(survey(cents=-95.0, missing=("C5",)), doubts=doubt), Prices(lines=(), wire_set=None))
    assert (doubted.need, doubted.why.split(":")[0]) == ("settle first", "Settle first what else the recording may say")
    withheld = ("median_abs_cents", "worst_cents", "passes_n", "load_share", "purchase_total")
    assert [getattr(doubted, name) for name in withheld] == [None] * 5
    assert doubted.purchases == ()
    worn = survey({"C5": {"dull": True, "verdict": "dull", "dull_probability": 0.97}})
    found, outcomes = collection_of({"worn": line_of(worn, None), "doubted": doubted})
    collection = collect(found, outcomes, priced=True)
    assert [row.line.need for row in collection.rows] == ["settle first", "worn strings"]
    first, _ = csv.DictReader(instruments_csv(collection).splitlines())
    cells = ("median_abs_cents", "worst_cents", "passes", "load_share", "purchase_total")
    assert [first[name] for name in cells] == [""] * 5
    assert "Names sure" in collection_page.render(collection, "0")


def test_a_lever_left_on_perhaps_is_asked_about_and_no_string_let_down_for_it():
    doubt = Doubt(code=RAISED, sentence="Is its lever engaged?", strings=("C5",))
    line = line_of(replace(survey({"C5": {"cents": 105.0}}, cents=5.0), doubts=(doubt,)), None)
    assert line.need == "tuning"
    assert line.why.startswith("Ask first how levers or discs of single strings stood.")
    assert line.passes_n is not None
    assert line_of(survey({"C5": {"cents": 105.0}}, cents=5.0), None).need == "too tight"


def test_one_string_that_is_dull_perhaps_makes_no_harp_a_worn_one():
    perhaps = {"dull": True, "verdict": "dull", "dull_probability": 0.64}
    assert line_of(survey({"C5": perhaps}, cents=1.0), None).need == "nothing"
    # of two, each 64 % likely, at least one is dull in 1 - 0.36² = 87 of 100
    assert line_of(survey({"C5": perhaps, "D5": perhaps}, cents=1.0), None).need == "worn strings"


def test_the_page_counts_as_dull_what_is_bought_as_dull():
    """One that dies away soon, and is to be checked by hand for something else, is not bought for it."""
    sounds_dull = {"dull": True, "dull_probability": 0.9}
    rows_ = {"C5": {**sounds_dull, "verdict": "dull"}, "D5": {**sounds_dull, "verdict": "check by hand"}}
    found, outcomes = collection_of({"worn": line_of(survey(rows_, cents=1.0), None)})
    collection = collect(found, outcomes, priced=False)
    (row,) = csv.DictReader(instruments_csv(collection).splitlines())
    (bought,) = csv.DictReader(buy_csv(collection).splitlines())
    assert (row["dull"], row["verdict_dull"], bought["dull"]) == ("2", "1", "1")
    page = collection_page.render(collection, "0")
    heads = re.findall(r"<th scope=\"col\"[^>]*>([^<]*)</th>", page)
    cells = re.findall(r"<t[hd][^>]*>", page[page.index("<tr data-row=") :])
    assert 'data-value="1"' in cells[heads.index("Dull")]


def test_what_has_no_price_is_not_taken_for_nothing():
    line = line_of(survey(missing=("C5", "D5")), None)
    n = len(line.purchases)
    assert cost(replace(line, purchase_total=0.0, unpriced_n=n)) == f"{n} without a price"
    assert cost(replace(line, purchase_total=4.5, unpriced_n=1)) == "4.50, 1 without a price"
    assert cost(replace(line, purchase_total=4.5, unpriced_n=0)) == "4.50"


def collection_of(lines, copies=1):
    """A collection of these lines, as many times over."""
    items, outcomes = [], {}
    for k in range(copies):
        for name, line in lines.items():
            item, _ = make_item(
                f"{name} {k}", [f"{name}{k}.wav"], [f"{name}{k}.wav"], Words(layout="lever-22-C4-C7"), Words()
            )
            items.append(replace(item, place=f"Room {k % 7}", note="stood in the cellar"))
            record = Record(
                schema=SCHEMA, fingerprint="", priced="", limits=None, files=("report.html",), line=line, failures=()
            )
            outcomes[item.key] = Outcome(key=item.key, record=record, found=False)
    return Found(items=tuple(items)), outcomes


def test_one_string_an_octave_down_makes_no_slack_harp_look_like_weeks_of_work():
    line = line_of(survey({"C5": {"cents": -1400.0}}, cents=-170.0), None)
    said = re.search(r"more than 1.7 semitones off, (\d+) passes, (\d+) for the furthest strings", line.why)
    assert said
    assert int(said[1]) < int(said[2]) == line.passes_n
    assert "furthest" not in line_of(survey(cents=-170.0), None).why


def test_a_thousand_instruments_are_a_light_page():
    lines = {"gap": line_of(survey(missing=("C5", "D5")), None), "slack": line_of(survey(cents=-170.0), None)}
    found, outcomes = collection_of(lines, copies=500)
    collection = collect(found, outcomes, priced=False)
    page = collection_page.render(collection, "0")
    assert page.count(" data-need=") == 1000
    assert len(page.encode()) < 2_000_000
    totals = list(csv.DictReader(buy_csv(collection).splitlines()))
    assert {t["string"]: t["missing"] for t in totals} == {"D5": "500", "C5": "500"}
