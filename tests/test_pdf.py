"""The paper: its pages, heads and fonts, that it says what the page says, and that nothing typed can upset it."""

import csv
import io
import re
from dataclasses import replace
from html.parser import HTMLParser

import msgspec
import pypdf
import pytest

from analyzer import clips, figures, paying_words, pdf, plan_tables, report, tables, words
from analyzer.outlook import look_ahead
from analyzer.plan import make_plan
from analyzer.questions import LOOK_AT
from analyzer.report import curves
from analyzer.speech import Manner, say, speaking
from analyzer.survey import to_json
from tests.example_recording import write_example_recording
from tests.example_survey import example_survey
from tests.survey_of import START
from tests.test_report import HOSTILE, NO_CHARTS, of_strings
from tests.test_translation import kept_with, planned

POINTS = {"a4": (595.28, 841.89), "letter": (612.0, 792.0)}  # ISO 216; ANSI/ASME Y14.1 size A


def charts(survey):
    return {name: getattr(figures, name)(survey) for name in figures.NAMES}


def read(data):
    return pypdf.PdfReader(io.BytesIO(data))


def plain(text):
    """Without the places to break and with single blanks."""
    return re.sub(r"\s+", " ", text.replace("\u200b", "").replace("\xad", ""))


def text_of(data):
    return plain(" ".join(page.extract_text() for page in read(data).pages))


@pytest.fixture(scope="module")
def survey():
    return example_survey()


@pytest.fixture(scope="module")
def sounds(survey, tmp_path_factory):
    return clips.cut([write_example_recording(tmp_path_factory.mktemp("clips") / "attic.flac", survey)], survey)


@pytest.fixture(scope="module")
def papers(survey, sounds):
    return {paper: pdf.render(survey, charts(survey), sounds, paper) for paper in pdf.PAGES}


@pytest.mark.parametrize("paper", pdf.PAGES)
def test_every_page_has_its_size_number_and_the_instruments_name(papers, survey, paper):
    reader = read(papers[paper])
    for number, page in enumerate(reader.pages, 1):
        size = sorted((float(page.mediabox.width), float(page.mediabox.height)))
        assert size == pytest.approx(sorted(POINTS[paper]), abs=0.5)
        text = plain(page.extract_text())
        assert f"Page {number} of {len(reader.pages)}" in text
        assert survey.title in text


def test_all_fonts_are_embedded(papers):
    # PDF 32000-1, 9.9: an embedded font has its program in FontFile, FontFile2 or FontFile3 of its descriptor.
    found = set()
    for page in read(papers["a4"]).pages:
        for font in page["/Resources"].get("/Font", {}).values():
            (inner,) = font.get_object()["/DescendantFonts"]
            descriptor = inner.get_object()["/FontDescriptor"].get_object()
            assert any(key in descriptor for key in ("/FontFile", "/FontFile2", "/FontFile3"))
            found.add(descriptor["/FontName"].split("+")[1])
    assert len(found) >= 2


class Cells(HTMLParser):
    """The cells of the table of strings, row by row."""

    def __init__(self, html):
        super().__init__()
        self.rows, self.inside = [], False
        self.feed(html)

    def handle_starttag(self, tag, attributes):
        if tag == "tr":
            self.inside = "data-row" in dict(attributes)
            if self.inside:
                self.rows.append([])
        elif self.inside and tag in ("td", "th"):
            self.rows[-1].append("")
        elif self.inside and tag == "br":
            self.rows[-1][-1] += " "

    def handle_endtag(self, tag):
        if tag == "tr":
            self.inside = False

    def handle_data(self, data):
        if self.inside and self.rows[-1]:
            self.rows[-1][-1] += data


@pytest.mark.parametrize("language", ["en", "de"])
def test_page_paper_table_and_file_agree_in_every_number(survey, sounds, language):
    with speaking(Manner(language=language)):
        html = report.render(survey, charts(survey), sounds)
        text = text_of(pdf.render(survey, charts(survey), sounds, "a4"))
    rows = Cells(html).rows
    assert len(rows) == len(survey.strings)
    stored = msgspec.json.decode(to_json(survey))["strings"]
    table = list(csv.DictReader(io.StringIO(tables.strings_csv(survey))))
    at = 0
    for row, line, kept in zip(rows, table, stored, strict=True):
        shown = [plain(cell).strip() for cell in row[:-1]]
        # the paper has the same cells in the same order
        at = text.index(plain(" ".join(filter(None, shown[:2]))), at)
        for cell in shown:
            at = text.index(cell, at)
        # the table for scripts has what the file has, and the page the same rounded
        for k, name, u95 in ((2, "cents", "cents_u95"), (7, "decay_s", "decay_u95_s")):
            if kept[name] is None:
                assert line[name] == shown[k] == ""
                continue
            assert float(line[name]) == pytest.approx(kept[name], abs=0.006)
            read_back = float(shown[k].replace("−", "-").replace(",", "."))
            assert abs(read_back - kept[name]) <= max(0.5 * kept[u95], 0.006)
        if kept["pitch_hz"] is not None:
            assert float(line["pitch_hz"]) == pytest.approx(kept["pitch_hz"], rel=1e-6)


class Details(HTMLParser):
    """What the page says of each string on demand: string -> its facts (name, value) and its table of partials."""

    def __init__(self, html):
        super().__init__()
        self.facts, self.partials, self.string, self.cell = {}, {}, None, None
        self.feed(html)

    def handle_starttag(self, tag, attributes):
        given = dict(attributes)
        if tag == "div" and given.get("id", "").startswith("string-"):
            self.string = given["id"].removeprefix("string-")
            self.facts[self.string], self.partials[self.string] = [], []
        elif self.string and tag in ("dt", "dd"):
            self.cell = self.facts[self.string]
            self.cell.append("")
        elif self.string and tag in ("td", "th"):
            self.cell = self.partials[self.string]
            self.cell.append("")

    def handle_endtag(self, tag):
        if tag in ("dt", "dd", "td", "th"):
            self.cell = None
        elif tag == "details":
            self.string = None

    def handle_data(self, data):
        if self.cell is not None:
            self.cell[-1] += data


def numbers(text):
    """Every number of a text."""
    return [float(found.replace("−", "-").replace(",", ".")) for found in re.findall(r"[-−]?\d+(?:[.,]\d+)?", text)]


def near(shown, exact, half_step):
    return abs(shown - exact) <= half_step * 1.0001


@pytest.mark.parametrize("language", ["en", "de"])
def test_each_strings_card_agrees_on_page_paper_and_in_the_file(survey, sounds, language):
    with speaking(Manner(language=language)):
        details = Details(report.render(survey, charts(survey), sounds))
        text = text_of(pdf.render(survey, charts(survey), sounds, "a4"))
        off = say(words.DETAIL["off"])
        at = text.index(say(words.DETAILS))
    stored = {row["string"]: row for row in msgspec.json.decode(to_json(survey))["strings"]}
    for row in survey.strings:
        if row.status == "not heard":
            continue
        facts, kept = [plain(one).strip() for one in details.facts[row.string]], stored[row.string]
        cells = [plain(one).strip() for one in details.partials[row.string]]
        # the paper has the page's facts, name by name, and the same table of partials
        at = text.index(words.note(row.note), at)
        pairs = list(zip(facts[::2], facts[1::2], strict=True))
        for name, value in pairs:
            if name != off:
                at = text.index(name, at)
                at = text.index(value, at)
        for one in cells[4:]:
            at = text.index(one, at)
        # and they are those of the file, rounded
        values = dict(pairs).values()
        target, pitch, cents, match, when, decay, expected, bright, dull, false, beats, loss, stiff = values
        assert near(numbers(target)[-1], kept["target_hz"], 0.005)
        for value, name, u95 in (
            (pitch, "pitch_hz", None),
            (cents, "cents", "cents_u95"),
            (decay, "decay_s", "decay_u95_s"),
        ):
            if kept[name] is None:
                assert numbers(value) == []
                continue
            wide = kept[u95] if u95 else kept["pitch_hz"] * (2 ** (kept["cents_u95"] / 1200) - 1)
            assert abs(numbers(value)[0] - kept[name]) <= max(0.5 * wide, 0.006)
        for value, exact, half_step in (
            (match, kept["match_confidence"], 0.005),
            (dull, kept["dull_probability"], 0.005),
            (false, kept["false_probability"], 0.005),
        ):
            known = [number / 100 for number in numbers(value)]
            assert (known == []) == (exact is None)
            assert exact is None or near(known[0], exact, half_step) or "<" in value or ">" in value
        for value, exact, half_step in (
            (when, kept["onset_s"], 0.005),
            (expected, kept["expected_decay_s"], 0.05),
            (bright, kept["brightness_db"], 0.05),
        ):
            assert (numbers(value) == []) == (exact is None)
            assert exact is None or near(numbers(value)[0], exact, half_step)
        beat = next(([p["beat_hz"], p["beat_u95_hz"]] for p in kept["partials"] if p["beat_hz"]), [])
        assert numbers(beats)[:2] == pytest.approx(beat, abs=0.005)
        assert (numbers(loss) == []) == (kept["loss_factor"] is None)
        if kept["loss_factor"] is not None:
            assert numbers(loss) == pytest.approx([kept["loss_factor"], kept["loss_factor_u95"]], rel=0.2)
        assert (re.search(r"\d", stiff) is None) == (kept["inharmonicity"] is None)
        if kept["inharmonicity"] is not None:
            assert float(stiff.replace(",", ".").replace("−", "-")) == pytest.approx(kept["inharmonicity"], rel=0.01)
        rows = [cells[k : k + 4] for k in range(4, len(cells), 4)]
        assert len(rows) == len(kept["partials"])
        for shown, partial in zip(rows, kept["partials"], strict=True):
            assert int(shown[0]) == partial["number"]
            assert near(numbers(shown[1])[0], partial["frequency_hz"], 0.05)
            assert near(numbers(shown[2])[0], partial["level_db"], 0.5)
            assert (shown[3] == "") == (partial["t60_s"] is None)
            assert partial["t60_s"] is None or near(numbers(shown[3])[0], partial["t60_s"], 0.05)


def test_each_strings_curve_is_drawn_from_the_files_levels(survey):
    for row, kept in zip(survey.strings, msgspec.json.decode(to_json(survey))["strings"], strict=True):
        drawn = curves.fade(row)
        assert (drawn == "") == (len(kept["decay_curve_db"]) < 2)
        if drawn:
            points = re.findall(r'points="([^"]*)"', drawn)[-1].split()
            levels = [float(one.split(",")[1]) / curves.HEIGHT * curves.FLOOR_DB for one in points]
            assert levels == pytest.approx([max(db, curves.FLOOR_DB) for db in kept["decay_curve_db"]], abs=0.05)


class Rows(HTMLParser):
    """The cells of the bodies of every table of one section, row by row."""

    def __init__(self, html, section):
        super().__init__()
        self.section, self.inside, self.body, self.cell, self.rows = section, False, False, False, []
        self.feed(html)

    def handle_starttag(self, tag, attributes):
        if tag == "section" and "id" in dict(attributes):
            self.inside = dict(attributes)["id"] == self.section
        elif self.inside and tag == "tbody":
            self.body = True
        elif self.inside and self.body and tag == "tr":
            self.rows.append([])
        elif self.inside and self.body and tag in ("td", "th"):
            self.rows[-1].append("")
            self.cell = True

    def handle_endtag(self, tag):
        if tag == "tbody":
            self.body = False
        if tag in ("td", "th"):
            self.cell = False

    def handle_data(self, data):
        if self.cell:
            self.rows[-1][-1] += data


@pytest.mark.parametrize("answered", [False, True])
def test_plan_load_and_purchases_agree_on_page_paper_and_in_their_tables(answered):
    survey, answers = planned()
    ahead = look_ahead(survey, kept_with(survey, answers) if answered else None)
    rows = Rows(report.render(survey, NO_CHARTS, {}, ahead), "next").rows
    text = text_of(pdf.render(survey, {}, {}, "a4", ahead))
    at = text.index(plain(words.NEXT))
    loose = re.sub(r"[-\s]", "", text[at:])  # a line may break at a hyphen
    for row in rows:
        for cell in row:
            assert re.sub(r"[-\s]", "", plain(cell)) in loose, cell
    assert ("Pass1" in loose) == answered  # never a plan that may not be made
    if answered:
        plan = make_plan(survey, answers, start=START)
        turns = list(csv.DictReader(io.StringIO(plan_tables.plan_csv(plan))))
        shown = [row for row in rows if len(row) >= 8 and row[0].isdigit()]
        assert len(shown) == len(turns)
        for row, turn in zip(shown, turns, strict=True):
            assert row[0] == turn["order"]
            assert numbers(row[4])[0] == round(float(turn["to_cents"]))
            assert numbers(row[5])[0] == pytest.approx(float(turn["to_hz"]), abs=0.006)
    assert {row[0] for row in rows} >= {one.string for one in ahead.purchases}


def test_it_holds_the_summary_the_cautions_the_hashes_and_a_place_to_sign(papers, survey):
    from analyzer.sentences import summary

    def bare(text):  # a line may break at a hyphen, a word at a hyphen of the setter's
        return re.sub(r"[-\s]", "", text)

    text = bare(text_of(papers["a4"]))
    for sentence in (*summary(survey), *words.CAUTION_TEXTS, *words.SIGN_LINES, survey.doubts[0].sentence):
        assert bare(sentence) in text
    assert survey.recordings[0].sha256 in text
    for sentence in (*paying_words.first_line(look_ahead(survey)), words.NO_PLAN, *LOOK_AT):
        assert bare(sentence) in text


def test_the_figures_are_those_of_the_page_and_have_words(papers, survey):
    reader = read(papers["a4"])
    alts, kinds = [], []

    def walk(node):
        node = node.get_object()
        if isinstance(node, list):
            for one in node:
                walk(one)
        elif isinstance(node, dict) and "/S" in node:
            kinds.append(node["/S"])
            if "/Alt" in node:
                alts.append(plain(str(node["/Alt"])))
            if "/K" in node:
                walk(node["/K"])

    walk(reader.trailer["/Root"]["/StructTreeRoot"]["/K"])
    assert figures.deviation_alt(survey) in alts
    assert figures.decay_alt(survey) in alts
    assert "/Table" in kinds
    assert kinds.count("/Figure") == 2 + 2 * sum(row.status != "not heard" for row in survey.strings)


def test_the_same_survey_gives_the_same_bytes(papers, survey, sounds):
    assert pdf.render(survey, charts(survey), sounds, "a4") == papers["a4"]


def test_47_strings_stay_under_2_megabytes(survey, sounds):
    names = [f"{letter}{octave}" for octave in range(1, 8) for letter in "CDEFGAB"][:47]
    row = replace(survey.strings[0], decay_curve_db=tuple(-0.3 * k for k in range(240)))
    large = replace(
        survey,
        strings=tuple(replace(row, string=name, note=name) for name in names),
        **of_strings(survey, names),
    )
    every = dict.fromkeys(names, sounds["C2"])
    assert len(pdf.render(large, charts(large), every, "a4")) < 2_000_000
    page = report.render(large, charts(large) | figures.narrow(large), every)
    assert len(page.encode()) < 3_000_000


@pytest.mark.parametrize("text", [*HOSTILE, '#panic("x")', "*bold* _it_ $x$ @ref <label> \\ `raw`"])
def test_what_is_typed_is_shown_as_text_and_stays_on_the_page(survey, text):
    info = replace(survey.recordings[0], name=text)
    rows = (replace(survey.strings[0], remarks=(text,)), *survey.strings[1:5])
    few = of_strings(survey, [row.string for row in rows])
    typed = replace(survey, title=text, recordings=(info,), said={"title": text}, remarks=(text,), strings=rows, **few)
    data = pdf.render(typed, {}, {}, "a4")
    shown = text_of(data)
    if text.isascii():
        assert re.sub(r"\s", "", text[:30]) in re.sub(r"\s", "", shown)
    right = 0.0

    def note(piece, matrix, text_matrix, _font, size):
        nonlocal right
        if piece.strip():
            right = max(right, matrix[4] + text_matrix[4])

    for page in read(data).pages:
        page.extract_text(visitor_text=note)
        assert right < float(page.mediabox.width)


def test_no_path_of_the_machine_is_on_it(survey):
    data = pdf.render(replace(survey, said={"layout": "/home/someone/mine.toml"}), {}, {}, "a4")
    assert "mine.toml" in text_of(data)
    assert "someone" not in text_of(data)
    assert b"someone" not in data


def test_settings_for_programmers_are_not_printed(survey, papers):
    text = text_of(papers["a4"])
    assert "Every setting of the analysis stands in report.html and in survey.json." in text
    assert not any(f"{name} {value}" in text for values in survey.settings.values() for name, value in values.items())
