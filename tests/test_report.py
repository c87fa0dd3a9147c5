"""The page as a reader without scripts, a screen reader, a browser's policy and a hostile name meet it."""

import base64
import csv
import hashlib
import io
import re
from collections import Counter
from dataclasses import replace
from html.parser import HTMLParser

import pytest

from analyzer import figures, words
from analyzer.layout import LayoutString
from analyzer.report import curves, render
from analyzer.tables import plucks_csv, strings_csv
from tests.example_survey import example_survey

VOID = {"meta", "link", "br", "img", "input", "hr"}
NO_CHARTS = {"deviation": "<svg ></svg>", "decay": "<svg ></svg>"}


def charts(survey):
    wide = {name: getattr(figures, name)(survey) for name in figures.NAMES}
    return wide | figures.narrow(survey)


class Page(HTMLParser):
    """The page taken apart: its elements, the text of each, and whether every one is closed where it should be."""

    def __init__(self, html):
        super().__init__()
        self.open, self.elements, self.texts, self.wrong = [], [], [], []
        self.feed(html)
        self.close()

    def handle_starttag(self, tag, attributes):
        self.elements.append((tag, dict(attributes)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attributes):
        self.elements.append((tag, dict(attributes)))

    def handle_endtag(self, tag):
        if not self.open or self.open.pop() != tag:
            self.wrong.append((tag, self.getpos()))

    def handle_data(self, data):
        self.texts.append((self.open[-1] if self.open else "", data))

    @property
    def text(self):
        """As one reads it: a space that keeps a figure and its unit together is a space."""
        return "".join(data for tag, data in self.texts if tag not in ("script", "style")).replace("\u00a0", " ")

    def inside(self, tag):
        return "".join(data for where, data in self.texts if where == tag).replace("\u00a0", " ")

    def all(self, tag):
        return [attributes for name, attributes in self.elements if name == tag]


@pytest.fixture(scope="module")
def survey():
    return example_survey()


@pytest.fixture(scope="module")
def html(survey):
    return render(survey, charts(survey))


@pytest.fixture(scope="module")
def page(html):
    return Page(html)


def test_every_element_is_closed_and_every_identifier_is_used_once(page):
    assert page.wrong == []
    assert page.open == []
    ids = Counter(attributes["id"] for _, attributes in page.elements if "id" in attributes)
    assert [one for one, n in ids.items() if n > 1] == []


def test_nothing_is_asked_of_any_network(page):
    for _, attributes in page.elements:
        for name in ("href", "src", "xlink:href", "srcset", "action", "data", "poster"):
            assert attributes.get(name, "#").startswith(("#", "data:"))
    assert "@import" not in page.inside("style")
    assert "url(" not in page.inside("style")


def test_the_policy_allows_what_is_inside_and_nothing_else(page):
    # W3C Content Security Policy Level 3: a hash source is the base64 of the SHA-256 of the element's text.
    (policy,) = [meta["content"] for meta in page.all("meta") if meta.get("http-equiv") == "Content-Security-Policy"]
    directives = dict(part.strip().split(" ", 1) for part in policy.split(";"))
    assert directives["default-src"] == "'none'"
    for tag, directive in (("style", "style-src"), ("script", "script-src")):
        digest = base64.b64encode(hashlib.sha256(page.inside(tag).encode()).digest()).decode()
        assert directives[directive] == f"'sha256-{digest}'"
    for _, attributes in page.elements:
        assert "style" not in attributes
        assert not any(name.startswith("on") for name in attributes)


def test_with_scripts_off_every_cell_of_both_tables_is_in_the_page(survey, page):
    for text in (strings_csv(survey), plucks_csv(survey)):
        assert text in page.text


def test_the_table_shows_what_the_csv_says(survey, page):
    values = [attributes["data-value"] for tag, attributes in page.elements if "data-value" in attributes]
    columns = ("target_hz", "cents", "cents_u95", None, "pitch_hz", "match_confidence", "decay_s", "decay_u95_s")
    rows = list(csv.DictReader(io.StringIO(strings_csv(survey))))
    width = len(columns) + 1
    assert len(values) == width * len(rows)
    for k, row in enumerate(rows):
        shown = values[width * k + 1 : width * (k + 1)]
        assert [value for value, column in zip(shown, columns, strict=True) if column] == [
            row[column] for column in columns if column
        ]


def test_rounded_figures_stay_within_their_interval_of_the_exact_ones(survey, page):
    for row in survey.strings:
        if row.cents is not None:
            shown, half = words.measured(row.cents, row.cents_u95)
            assert f"{shown} {half} cents" in page.text
            assert abs(float(shown.replace("−", "-")) - row.cents) < row.cents_u95


def test_the_sections_come_summary_first_and_problems_before_details(page):
    ids = [attributes.get("id") for attributes in page.all("section")]
    problems_first = ["summary", "doubts", "cautions", "deviation", "decay", "strings", "details"]
    assert ids == [*problems_first, "plucks", "next", "recording", "glossary", "method"]


def test_without_doubts_or_remarks_nothing_claims_to_need_settling(survey):
    text = render(replace(survey, doubts=(), remarks=()), NO_CHARTS)
    assert 'id="doubts"' not in text
    assert words.DOUBTS not in text


def test_doubts_findings_and_their_remedies_are_all_told(survey, page):
    for doubt in survey.doubts:
        assert doubt.sentence in page.text
    for finding in survey.recordings[0].findings:
        assert finding.what in page.text
        assert finding.spoils in page.text
        assert finding.remedy in page.text
    assert page.text.index("turn its level up") < page.text.index("Mains hum at 50 Hz")


def test_what_does_not_count_says_why(survey, page):
    for pluck in survey.plucks:
        if not pluck.counted:
            assert pluck.reason in page.text


def test_tables_have_captions_and_headings_with_a_scope(page):
    assert len(page.all("caption")) == len(page.all("table"))
    assert all(head.get("scope") in ("col", "row") for head in page.all("th"))


def test_charts_have_words_and_scrolling_parts_can_be_reached_by_keyboard(survey, page):
    assert page.text.count(figures.deviation_alt(survey)) == 3  # in either chart, of which one is shown, and below
    assert page.text.count(figures.decay_alt(survey)) == 3
    wide = [d for d in page.all("div") if "wide" in d.get("class", "").split()]
    assert all(d.get("tabindex") == "0" and d.get("aria-label") for d in wide)
    assert len({d["aria-label"] for d in wide}) == len(wide)


def test_what_was_assumed_is_said_in_words_a_person_can_contradict(survey):
    assumed = Page(render(survey, NO_CHARTS)).text
    stated = Page(render(replace(survey, tuning=replace(survey.tuning, settled_by="person")), NO_CHARTS)).text
    assert survey.tuning.setting in assumed
    assert words.ASSUMED in assumed
    assert words.ASSUMED not in stated


HOSTILE = [
    "<script>alert(1)</script>",
    '"><img src=x onerror=alert(1)>',
    "</style></title></pre><h1>",
    "=cmd()",
    "{{ 7 * 7 }}",
    "$x_1$ & &amp;",
    "\u202eright to left\u202c",
    "🎶👩🏽‍🎤",
    "x" * 10_000,
]


def page_with(survey, text):
    """The page of a survey with this text in every place that a person, or a file of theirs, can fill."""
    typed = replace(
        survey,
        title=text,
        date=text,
        recordings=(replace(survey.recordings[0], name=text),),
        layout=replace(survey.layout, title=text, name=text, source=text),
        tuning=replace(survey.tuning, setting=text, key=text),
        said={"title": text},
        doubts=(replace(survey.doubts[0], sentence=text),),
        remarks=(text,),
        strings=(replace(survey.strings[0], remarks=(text,)), *survey.strings[1:]),
    )
    return Page(render(typed, NO_CHARTS))


@pytest.mark.parametrize("text", HOSTILE, ids=range(len(HOSTILE)))
def test_whatever_a_person_types_is_shown_as_text(survey, text):
    shown, plain = page_with(survey, text), page_with(survey, "plain")
    assert shown.wrong == []
    assert [tag for tag, _ in shown.elements] == [tag for tag, _ in plain.elements]
    assert shown.text.count(text) >= 8
    assert {where for where, data in shown.texts if text in data and where != "title"} == {"bdi"}


def test_a_long_title_is_cut_in_the_heading_and_whole_below(survey):
    shown = Page(render(replace(survey, title="a long name " * 1000), NO_CHARTS))
    assert len(shown.inside("title")) < 150
    assert "a long name " * 1000 in shown.text


def test_no_folder_of_the_machine_is_told(survey):
    for path in ("/home/someone/harps/mine.toml", r"C:\Users\someone\mine.toml"):
        text = render(replace(survey, said={"layout": path}), NO_CHARTS)
        assert "mine.toml" in text
        assert "someone" not in text


def test_the_same_survey_gives_the_same_page(survey, html):
    assert render(survey, charts(survey)) == html


def of_strings(survey, names):
    """Layout and tuning for strings of these names."""
    target = survey.tuning.targets[0]
    return {
        "layout": replace(survey.layout, strings=tuple(LayoutString(string=name, material="gut") for name in names)),
        "tuning": replace(survey.tuning, targets=tuple(replace(target, string=name, note=name) for name in names)),
    }


def test_47_strings_with_long_decays_stay_small(survey):
    row = replace(survey.strings[0], decay_curve_db=tuple(-0.3 * k for k in range(240)))
    names = [f"{letter}{octave}" for octave in range(1, 8) for letter in "CDEFGAB"][:47]
    strings = tuple(replace(row, string=name, note=name) for name in names)
    large = replace(survey, strings=strings, **of_strings(survey, names))
    text = render(large, charts(large))
    assert len(text.encode()) < 1_000_000  # a third of the 3 MB, the rest is for 47 clips


def test_a_string_that_hardly_sounds_still_has_its_curve(survey):
    row = replace(survey.strings[0], decay_curve_db=(0.0, -70.0), expected_decay_s=None)
    assert '<polyline points="0.0,0.0 320.0,96.0"' in curves.fade(row)
    assert "dasharray" not in curves.fade(row)
    assert curves.fade(replace(row, decay_curve_db=())) == ""


def luminance(colour):
    """Relative luminance of #rrggbb: WCAG 2.2, definition."""
    channels = [int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)]
    r, g, b = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels)
    return 0.2126 * r + 0.7152 * g + 0.0722 * b


@pytest.mark.parametrize("theme", [0, 1], ids=["light", "dark"])
def test_text_stands_out_from_its_ground_in_both_themes(page, theme):
    # WCAG 2.2, success criterion 1.4.3: at least 4.5 to 1.
    block = re.findall(r":root \{(.*?)\}", page.inside("style"), re.DOTALL)[theme]
    colours = dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6})", block))
    for ground in ("page", "card", "alert"):
        for text in ("ink", "soft", "good", "bad", "red"):
            light, dark = sorted((luminance(colours[ground]), luminance(colours[text])), reverse=True)
            assert (light + 0.05) / (dark + 0.05) >= 4.5, (ground, text)


def test_the_page_has_every_colour_of_the_charts(page):
    from analyzer.chart import COLOURS

    light, dark = re.findall(r":root \{(.*?)\}", page.inside("style"), re.DOTALL)[:2]
    for name, colour in COLOURS.items():
        assert f"--{name}: {colour};" in light
        assert f"--{name}: " in dark
    assert not re.search(r"#[0-9a-f]{6}\b", "".join(str(a) for tag, a in page.elements if tag in ("path", "use", "g")))
