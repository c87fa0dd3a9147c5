"""The comparison from the command line to its files, row by row."""

import argparse
import csv
import html
import io
import re
from dataclasses import replace
from datetime import date

import msgspec
import pytest

from analyzer.changes import New
from analyzer.changes import compare as compared
from analyzer.cli import compare, record, reply, verify
from analyzer.compare_words import METHOD_TEXTS, by_chance
from analyzer.comparison import Comparison, Said, Source, make_comparison
from analyzer.digest import digest
from analyzer.errors import UnusableInput
from analyzer.report.compare_page import drawing
from analyzer.settings import ChangeSettings, ReportSettings, Settings
from analyzer.survey import to_json
from tests.survey_moves import NOT_HEARD, moved, plain, with_rows

CONTRACT = [
    "string",
    "before_date",
    "after_date",
    "before_cents",
    "after_cents",
    "change_cents",
    "change_u95",
    "changed",
    "before_decay_s",
    "after_decay_s",
    "before_dull",
    "after_dull",
    "new_string",
    "remarks",
]


def run(*arguments):
    parser = argparse.ArgumentParser()
    commands = parser.add_subparsers()
    for module in (compare, record, reply, verify):
        module.add(commands)
    words = parser.parse_args([str(a) for a in arguments])
    return words.run(words)


def put(folder, survey):
    folder.mkdir(parents=True)
    (folder / "survey.json").write_bytes(to_json(survey))
    return folder


def rows(folder, name="changes.csv"):
    return list(csv.DictReader(io.StringIO((folder / name).read_text("utf-8"))))


@pytest.fixture
def pair(tmp_path):
    before = with_rows(moved(plain(), lambda i, _: -40.0), {"C5": NOT_HEARD})
    put(tmp_path / "before", replace(before, date="2026-03-01"))
    put(tmp_path / "after", replace(plain(), date="2026-03-15", title="=<b>Harp</b>"))
    return tmp_path


def test_it_writes_the_contract_in_the_order_of_dates(pair, capsys):
    assert run("compare", pair / "after", pair / "before", "--out", pair / "out") == 0
    assert sorted(p.name for p in (pair / "out").iterdir()) == [
        "changes.csv",
        "compare.html",
        "compare.json",
        "signed.json",
    ]
    found = rows(pair / "out")
    assert list(found[0])[: len(CONTRACT)] == CONTRACT
    assert [row["string"] for row in found] == [row.string for row in plain().strings]
    assert {(row["before_date"], row["after_date"]) for row in found} == {("2026-03-01", "2026-03-15")}
    c4 = next(row for row in found if row["string"] == "C4")
    assert c4["changed"] == "true"
    assert float(c4["change_cents"]) == pytest.approx(float(c4["after_cents"]) - float(c4["before_cents"]), abs=0.02)
    c5 = next(row for row in found if row["string"] == "C5")
    assert (c5["new_string"], c5["change_cents"], c5["changed"]) == ("possible", "", "")
    assert "put in the order of their dates" in (pair / "out" / "compare.html").read_text("utf-8")
    assert "C5" in capsys.readouterr().err


def test_new_strings_are_named_in_any_way(pair):
    run("compare", pair / "before", pair / "after", "--out", pair / "out", "--new", "second red from the top, 3D")
    assert {r["string"]: r["new_string"] for r in rows(pair / "out") if r["new_string"]} == {
        "C5": "stated",
        "D5": "stated",
    }


def test_the_method_says_what_is_taken_out_and_what_cannot_be_seen():
    shorter = {row.string: {"decay_s": 0.5 * row.decay_s} for row in plain().strings[:14] if row.decay_s}
    (octaves,) = compared((plain(), with_rows(plain(), shorter)))
    assert not any((row.decay_ratio or 1.0) < 0.8 for row in octaves.strings[:6])  # a stretch that lost alike
    text = next(text for text in METHOD_TEXTS if "Theil" in text)
    assert "nearest neighbours" in text
    assert "of a stretch alike cannot be seen" in text


def test_page_table_and_json_agree(pair):
    run("compare", pair / "before", pair / "after", "--out", pair / "out")
    page = (pair / "out" / "compare.html").read_text("utf-8")
    value = msgspec.json.decode((pair / "out" / "compare.json").read_bytes(), type=Comparison)
    (only,) = value.pairs
    for row, cells in zip(only.strings, rows(pair / "out"), strict=True):
        assert cells["effect"] == row.effect
        assert cells["change_u95"] == ("" if row.change_u95 is None else f"{row.change_u95:.2f}")
    shown = (pair / "out" / "changes.csv").read_text("utf-8")
    assert shown.splitlines()[5].split(",")[0] in page
    assert "<b>Harp" not in page
    assert "default-src 'none'" in html.unescape(page)
    assert not re.findall(r'(?:src|href)="(?!data:)', page)


def test_every_figure_stands_with_its_interval(pair):
    """Before and after each with its own survey's, the change with that of both together."""
    wide = with_rows(plain(), {"C4": {"cents_u95": 7.25}, "D4": {"cents_u95": None}, "C5": NOT_HEARD})
    put(pair / "wide", replace(wide, date="2026-04-15"))
    run("compare", pair / "after", pair / "wide", "--out", pair / "out")
    found = {row["string"]: row for row in rows(pair / "out")}
    assert (found["C4"]["before_u95"], found["C4"]["after_u95"]) == ("1.00", "7.25")
    assert (found["D4"]["before_u95"], found["D4"]["after_u95"]) == ("1.00", "")
    assert (found["C5"]["before_u95"], found["C5"]["after_u95"]) == ("1.00", "")
    page = (pair / "out" / "compare.html").read_text("utf-8")
    row = re.search(r"<bdi>C4</bdi></th>(.*?)</tr>", page, re.DOTALL).group(1)
    cells = [" ".join(cell.split()) for cell in re.findall(r'<td class="n"[^>]*>(.*?)</td>', row, re.DOTALL)]
    assert [("±" in cell) for cell in cells[:3]] == [True, True, True]
    assert "7" in cells[1].split("±")[1]


def test_decays_stand_with_their_intervals_too(pair):
    run("compare", pair / "before", pair / "after", "--out", pair / "out")
    row = next(row for row in rows(pair / "out") if row["string"] == "C4")
    own = next(row for row in plain().strings if row.string == "C4")
    assert (row["before_decay_u95_s"], row["after_decay_u95_s"]) == (f"{own.decay_u95_s:.3f}",) * 2
    page = (pair / "out" / "compare.html").read_text("utf-8")
    line = re.search(r"<bdi>C4</bdi></th>(.*?)</tr>", page, re.DOTALL).group(1)
    cells = re.findall(r'<td class="n"[^>]*>(.*?)</td>', line, re.DOTALL)
    assert [("±" in cell) for cell in cells] == [True] * 5


def test_it_is_said_how_many_changes_chance_alone_would_show():
    (same,) = compared((plain(), plain()))
    said = by_chance(same)
    n = sum(v is not None for r in same.strings for v in (r.changed, r.decay_ratio, r.brightness_change_db))
    assert n > 60
    assert f"Of {n} comparisons" in said
    assert f"about {n / 20:.0f} would show a change with nothing changed" in said  # one in twenty at 95 %
    assert by_chance(replace(same, strings=same.strings[:3])) == ""


def test_a_bar_of_the_drawing_is_as_long_as_the_interval():
    first = with_rows(plain(), {"C4": {"cents_u95": 20.0}, "D4": {"cents_u95": None}})
    (only,) = compared([first, plain()])
    strands = {
        row.string: strand for row, strand in zip(only.strings, drawing(only, ("plain",) * 34).strands, strict=True)
    }
    top, bottom = strands["C4"].before_bar
    other_top, other_bottom = strands["C4"].after_bar
    assert (top + bottom) / 2 == pytest.approx(strands["C4"].before)
    assert bottom - top == pytest.approx(20 * (other_bottom - other_top))
    assert strands["D4"].before_bar is None


def test_what_moved_far_says_how_sure_that_is(pair):
    put(pair / "far", replace(moved(plain(), lambda i, _: -790.0), date="2026-04-01"))
    run("compare", pair / "after", pair / "far", "--out", pair / "out", "--borrower", "Ada")
    c4 = next(row for row in rows(pair / "out") if row["string"] == "C4")
    said = re.search(r"Moved by ([\d.]+) ± ([\d.]+) cents", c4["remarks"])
    assert float(said[1]) == pytest.approx(-float(c4["change_cents"]), abs=0.06)
    assert float(said[2]) == pytest.approx(float(c4["change_u95"]), abs=0.06)
    page = re.sub(r"\s", " ", html.unescape((pair / "out" / "compare.html").read_text("utf-8")))
    assert f"{said[1]} ± {said[2]} cents lower" in page


def test_the_page_names_strings_by_their_notes(pair, capsys):
    run("compare", pair / "before", pair / "after", "--out", pair / "out")
    page = (pair / "out" / "compare.html").read_text("utf-8")
    assert "E♭2" in capsys.readouterr().err
    assert "<bdi>E♭2</bdi>" in page
    assert "<bdi>E2</bdi>" not in page


def test_the_same_surveys_give_the_same_bytes(pair, monkeypatch):
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1772323200")
    for name in ("one", "two"):
        run("compare", pair / "before", pair / "after", "--out", pair / name)
    for path in (pair / "one").iterdir():
        assert path.read_bytes() == (pair / "two" / path.name).read_bytes()


def test_a_signed_comparison_is_verified_and_an_altered_one_is_not(pair, capsys):
    run("compare", pair / "before", pair / "after", "--out", pair / "out", "--technician", "A. Tester")
    assert run("verify", pair / "out", pair / "before" / "survey.json") == 0
    told = capsys.readouterr().out
    assert "signed by" not in told
    assert "A. Tester is named in them as technician, but nobody has signed them off." in told
    run("sign", pair / "out", "--by", "A. Tester")
    run("verify", pair / "out", pair / "before" / "survey.json")
    assert "signed by A. Tester" in capsys.readouterr().out
    with pytest.raises(UnusableInput, match=r"signed by A\. Tester, and new files would undo that"):
        run("compare", pair / "before", pair / "after", "--out", pair / "out")
    assert run("verify", pair / "out") == 0
    (pair / "out" / "changes.csv").write_text("none", "utf-8")
    with pytest.raises(UnusableInput, match=r"changes\.csv: was altered"):
        run("verify", pair / "out")


def test_any_folder_can_be_signed(pair):
    run("sign", pair / "before", "--by", "A. Tester", "--date", "2026-03-02")
    assert run("verify", pair / "before") == 0


@pytest.mark.parametrize(
    ("arguments", "why"),
    [
        (["before"], "two surveys or more"),
        (["before", "nowhere"], "no such survey folder or recording"),
        (["before", "after", "--new", "H9"], "'H9' names no string"),
        (["before", "after", "--new", "C5=soon"], "no day"),
        (["before", "after", "--new", "C5=2026-01-01"], "no two surveys lie"),
        (["before", "after", "--retuned", "soon"], "no day"),
        (["before", "after", "--retuned", "2031-01-01"], "no two surveys lie before and after that day"),
        (["before", "after", "--labour-rate", "-1"], "no price"),
        (["before", "after", "--regulation", "before", "after"], "leave out the others"),
    ],
)
def test_what_cannot_be_used_is_one_sentence_and_touches_nothing(pair, arguments, why, monkeypatch):
    monkeypatch.chdir(pair)
    (pair / "out").mkdir()
    (pair / "out" / "changes.csv").write_text("mine", "utf-8")
    with pytest.raises(UnusableInput, match=why):
        run("compare", *arguments, "--out", pair / "out")
    assert [p.name for p in (pair / "out").iterdir()] == ["changes.csv"]
    assert (pair / "out" / "changes.csv").read_text("utf-8") == "mine"


def test_regulation_has_a_table_of_its_own(pair):
    put(pair / "open", plain())
    put(pair / "engaged", moved(plain(), lambda i, row: row.cents + (112.0 if row.string == "C4" else 100.0)))
    run("compare", "--regulation", pair / "open", pair / "engaged", "--settled", "--out", pair / "out")
    found = {row["string"]: row for row in rows(pair / "out", "regulation.csv")}
    assert (found["C4"]["rise_cents"], found["C4"]["raising"]) == ("112.00", "too much")
    assert found["D4"]["raising"] == "as it should"
    assert "Raised too much: C4." in (pair / "out" / "compare.html").read_text("utf-8")


@pytest.mark.parametrize(
    ("before", "told"),
    [
        (lambda i: 30.0 if i % 2 else -30.0, "typically up or down by 30 cents"),  # half sharp, half flat, then tuned
        (lambda i: -30.0, "typically up by 30 cents"),
        (lambda i: 30.0, "typically down by 30 cents"),
    ],
)
def test_a_harp_whose_strings_moved_both_ways_is_not_said_to_have_moved_one(before, told):
    off, tuned = moved(plain(), lambda i, _: before(i)), moved(plain(), lambda i, _: 0.0)
    sources = [Source(survey=survey, name=str(k), sha256=str(k)) for k, survey in enumerate((off, tuned))]
    summary = make_comparison(sources, Said(), Settings(), program_version="0", made_at="").summary
    assert told in " ".join(summary)


def test_an_engaged_lever_is_no_string_that_may_break():
    engaged = moved(plain(), lambda i, _: 100.0)  # analysed against the open strings' notes
    sources = [Source(survey=survey, name=str(k), sha256=str(k)) for k, survey in enumerate((plain(), engaged))]
    said = Said(regulation=True, settled=True)
    paying = make_comparison(sources, said, Settings(), program_version="0", made_at="").paying
    assert paying.playable == "playable with limits"
    assert not any("may break" in why for why in paying.why)


def test_a_record_compares_all_its_surveys_with_the_weather_noted_in_it(pair):
    for name, humidity in (("before", "40"), ("after", "55")):
        run("record", "add", pair / "harp", pair / name, "--humidity", humidity, "--photo", "/somewhere/neck.jpg")
    run("compare", pair / "harp", "--out", pair / "out")
    value = msgspec.json.decode((pair / "out" / "compare.json").read_bytes(), type=Comparison)
    assert [head.humidity for head in value.surveys] == ["40", "55"]
    assert len(value.pairs) == 1


def test_a_lent_harp_shows_issue_and_return(pair):
    run("compare", pair / "before", pair / "after", "--out", pair / "out", "--borrower", "B", "--asset", "A 7")
    page = (pair / "out" / "compare.html").read_text("utf-8")
    assert "Condition at issue and at return" in page
    assert "A 7" in page


def test_of_several_surveys_a_lent_harps_return_is_held_against_its_issue():
    gone = with_rows(replace(plain(), date="2026-03-09"), {"C4": NOT_HEARD})
    sources = [
        Source(survey=survey, name=survey.date, sha256=survey.date)
        for survey in (replace(plain(), date="2026-03-01"), gone, replace(gone, date="2026-03-20"))
    ]
    said = Said(lent=True, new=(New(string="D4", day=date(2026, 3, 12)),))
    found = make_comparison(sources, said, Settings(), program_version="0", made_at="").found
    assert [(one.string, one.what) for one in found] == [("C4", "not heard any more"), ("D4", "replaced meanwhile")]


@pytest.mark.parametrize(("ratio", "told"), [(1.4, ["D4"]), (3.0, [])])
def test_what_rings_less_is_a_finding_from_the_ratio_in_the_settings_on(ratio, told):
    shorter = with_rows(plain(), {"D4": {"decay_s": 0.5 * {r.string: r.decay_s for r in plain().strings}["D4"]}})
    sources = [
        Source(survey=replace(survey, date=day), name=day, sha256=day)
        for survey, day in ((plain(), "2026-03-01"), (shorter, "2026-03-09"))
    ]
    settings = replace(Settings(), changes=ChangeSettings(damping_ratio=ratio))
    found = make_comparison(sources, Said(lent=True), settings, program_version="0", made_at="").found
    assert [one.string for one in found if one.what.startswith("rings only")] == told


def test_a_survey_counts_as_dull_what_its_report_calls_dull():
    """One that dies away soon, but is to be checked by hand for something else, is not called so."""
    worn = with_rows(plain(), {"C5": {"dull": True, "verdict": "dull"}, "D5": {"dull": True, "verdict": "false"}})
    sources = [Source(survey=replace(worn, date=day), name=day, sha256=day) for day in ("2026-03-01", "2026-03-09")]
    made = make_comparison(sources, Said(), Settings(), program_version="0", made_at="")
    assert [head.dull_n for head in made.surveys] == [1, 1]
    assert len(digest(worn, ReportSettings()).dull) == 1


def test_many_surveys_show_how_the_harp_settles(tmp_path):
    for k, day in enumerate((1, 3, 8, 20)):
        survey = moved(plain(), lambda i, _, k=k: -5.0 * k)
        put(tmp_path / str(k), replace(survey, date=date(2026, 3, day).isoformat()))
    run("compare", *(tmp_path / str(k) for k in range(4)), "--out", tmp_path / "out")
    assert len(rows(tmp_path / "out")) == 3 * 34
    page = (tmp_path / "out" / "compare.html").read_text("utf-8").replace("\u00a0", " ")
    assert "every string stays within 5 cents" in page
    assert page.count("<polyline") == 31


def test_the_drawing_names_what_is_off_its_scale():
    before = moved(plain(), lambda i, row: -1195.0 if row.string == "G2" else 0.0)
    (only,) = compared((before, plain()))
    drawn = drawing(only, ("plain",) * 34)
    assert drawn.left_out == ["G2"]
    assert len(drawn.strands) == 34


def test_the_record_lists_and_shows(pair, capsys):
    run("record", "add", pair / "harp", pair / "before", "--who", "me", "--serial", "12")
    run("record", "add", pair / "harp", "--date", "2026-03-20", "--done", "tuned")
    run("record", "list", pair / "harp")
    listed = capsys.readouterr().out.splitlines()
    assert [line.split()[:2] for line in listed] == [["2026-03-01-001", "survey"], ["2026-03-20-001", "note"]]
    run("record", "show", pair / "harp")
    assert "serial number: 12" in capsys.readouterr().out
    with pytest.raises(UnusableInput, match="no entry"):
        run("record", "show", pair / "harp", "2020-01-01-001")
    with pytest.raises(UnusableInput, match="no harp's record"):
        run("record", "list", pair / "before")


def test_a_reply_merges_what_was_recorded_again(pair):
    run("reply", pair / "before", pair / "after", "--note", "Go on", "--out", pair / "out")
    assert sorted(p.name for p in (pair / "out").iterdir()) == ["reply.html", "reply.json", "survey.json"]
    assert "Go on" in (pair / "out" / "reply.html").read_text("utf-8")


def test_a_survey_beside_itself_is_told_to_be_of_one_recording(tmp_path, capsys):
    one, two = put(tmp_path / "one", plain()), put(tmp_path / "two", plain())
    assert run("compare", one, two, "--out", tmp_path / "out") == 0
    assert "Made from the same recording (" in capsys.readouterr().err
    recordings = tuple(replace(info, sha256="0" * 64) for info in plain().recordings)
    other = put(tmp_path / "other", replace(plain(), recordings=recordings))
    assert run("compare", one, other, "--out", tmp_path / "out") == 0
    assert "Made from the same recording (" not in capsys.readouterr().err
