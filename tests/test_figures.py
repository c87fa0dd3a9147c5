"""The charts: same bytes each time, every string in them, readable with an octave-low string, and small."""

import re
import subprocess
import sys
import xml.etree.ElementTree as ET
from dataclasses import replace
from pathlib import Path

import pytest

from analyzer import figures
from analyzer.chart import COLOURS, harp_colours
from analyzer.speech import LANGUAGES, Manner, speaking
from tests.example_survey import OCTAVE_LOW, example_survey

SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def files():
    return figures.files(example_survey())


def change(survey, **values):
    """The survey with the same values set for every string that was heard."""
    rows = (row if row.status == "not heard" else replace(row, **values) for row in survey.strings)
    return replace(survey, strings=tuple(rows))


def test_both_charts_come_as_svg_and_png(files):
    assert set(files) == {f"figures/{name}.{kind}" for name in ("deviation", "decay") for kind in ("svg", "png")}
    assert all(data.startswith(b"\x89PNG") for name, data in files.items() if name.endswith(".png"))


def test_the_same_survey_gives_the_same_bytes(files):
    assert figures.files(example_survey()) == files
    assert figures.deviation(example_survey()).encode() == files["figures/deviation.svg"]
    assert figures.decay(example_survey()).encode() == files["figures/decay.svg"]


def test_they_are_small(files):
    assert max(len(data) for name, data in files.items() if name.endswith(".svg")) < 150_000
    assert max(len(data) for data in files.values()) < 300_000


@pytest.mark.parametrize("name", ["deviation", "decay"])
def test_an_svg_is_well_formed_and_says_in_words_what_it_shows(files, name):
    root = ET.fromstring(files[f"figures/{name}.svg"])
    alt = getattr(figures, f"{name}_alt")(example_survey())
    assert root.get("role") == "img"
    named = {element.get("id"): element.text for element in root if element.tag in (SVG + "title", SVG + "desc")}
    assert [named[key] for key in root.get("aria-labelledby").split()][1] == alt
    ids = [element.get("id") for element in root.iter() if element.get("id")]
    assert len(ids) == len(set(ids))
    assert all(one.startswith(name) for one in ids)


@pytest.mark.parametrize("name", ["deviation", "decay"])
def test_an_svg_asks_for_nothing_elsewhere_and_has_only_the_house_colours(files, name):
    svg = files[f"figures/{name}.svg"].decode("utf-8")
    asked = re.findall(r'href="([^"]+)"|url\(([^)]+)\)', svg)
    assert all((link or url).startswith("#") for link, url in asked)
    assert "<metadata" not in svg
    assert set(re.findall(r"#[0-9a-f]{6}\b", svg)) <= set(COLOURS.values())


def axes(draw, survey):
    """The axes that a drawing function fills, without writing them."""
    from matplotlib.figure import Figure

    figure = Figure()
    draw(figure, survey, (survey,))
    return figure.axes


def test_every_string_has_its_letter_in_order_with_c_and_f_marked():
    survey = example_survey()
    (ax,) = axes(figures._draw_deviation, survey)
    labels = ax.get_xticklabels()
    assert [label.get_text()[0] for label in labels] == [row.string[0] for row in survey.strings]
    assert {label.get_color() for label in labels if label.get_text()[0] == "C"} == {COLOURS["red"]}
    assert {label.get_color() for label in labels if label.get_text()[0] == "F"} == {COLOURS["ink"]}


def test_a_string_an_octave_low_does_not_squeeze_the_others_and_shows_its_figure():
    survey = example_survey()
    (ax,) = axes(figures._draw_deviation, survey)
    low, _ = ax.get_ylim()
    assert -600 < low < -436
    assert "−1194" in [text.get_text() for text in ax.texts]
    x = [row.string for row in survey.strings].index(OCTAVE_LOW)
    drawn = [tuple(point) for line in ax.lines for point in line.get_xydata() if point[0] == x]
    assert any(low < y < -436 for _, y in drawn)


def test_a_whole_harp_an_octave_low_is_drawn_to_scale():
    (ax,) = axes(figures._draw_deviation, change(example_survey(), cents=-1200.0, cents_u95=1.0))
    assert ax.get_ylim()[0] < -1200


def test_a_harp_in_tune_is_not_blown_up():
    (ax,) = axes(figures._draw_deviation, change(example_survey(), cents=0.5, cents_u95=0.6))
    assert ax.get_ylim() == (-60.0, 60.0)


def test_the_interval_is_drawn_at_its_size():
    survey = example_survey()
    (ax,) = axes(figures._draw_deviation, survey)
    first = survey.strings[0]
    bars = [segment for c in ax.collections for segment in c.get_segments() if len(segment) == 2]
    ends = {(float(a[0]), round(float(a[1]), 6), round(float(b[1]), 6)) for a, b in bars}
    low, high = first.cents - first.cents_u95, first.cents + first.cents_u95
    assert (0.0, round(low, 6), round(high, 6)) in ends


def test_nothing_measured_still_gives_charts():
    survey = change(example_survey(), cents=None, cents_u95=None, pitch_hz=None, decay_s=None, decay_u95_s=None)
    survey = change(survey, brightness_db=None, expected_decay_s=None, verdict="cannot judge")
    ET.fromstring(figures.deviation(survey))
    ET.fromstring(figures.decay(survey))
    assert figures.deviation_alt(survey) == "No string could be measured."
    assert figures.decay_alt(survey) == "No string’s decay could be measured."


def test_a_layout_without_colours_gets_the_usual_ones():
    survey = example_survey()
    plain = tuple(replace(string, colour="plain") for string in survey.layout.strings)
    survey = replace(survey, layout=replace(survey.layout, strings=plain))
    assert harp_colours(survey)[:4] == ["red", "gut", "gut", "ink"]


def test_a_layout_with_colours_of_its_own_keeps_them():
    survey = example_survey()
    own = tuple(replace(s, colour="blue" if s.string[0] == "F" else "plain") for s in survey.layout.strings)
    survey = replace(survey, layout=replace(survey.layout, strings=own))
    assert harp_colours(survey)[:4] == ["gut", "gut", "gut", "blue"]


def test_on_a_narrow_page_the_parts_hold_every_string_once_on_one_scale():
    from matplotlib.figure import Figure

    survey, figure = example_survey(), Figure()
    parts = figures._narrow_parts(survey)
    figures._draw_deviation(figure, survey, parts)
    letters = [label.get_text()[0] for ax in figure.axes for label in ax.get_xticklabels()]
    assert letters == [row.string[0] for row in survey.strings]
    assert len({ax.get_ylim() for ax in figure.axes}) == 1
    assert figure.get_figwidth() < 4
    assert set(figures.narrow(survey)) == {"deviation-narrow", "decay-narrow"}


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("narrow", [False, True], ids=["wide", "narrow"])
@pytest.mark.parametrize("draw", [figures._draw_deviation, figures._draw_decay])
def test_no_word_sticks_out_of_a_chart(draw, narrow, language):
    import matplotlib
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure
    from matplotlib.text import Text

    survey = example_survey()
    with matplotlib.rc_context(), speaking(Manner(language=language)):
        matplotlib.rc_file(figures.STYLE)
        figure = Figure()
        draw(figure, survey, figures._narrow_parts(survey) if narrow else (survey,))
        canvas = FigureCanvasAgg(figure)
        canvas.draw()
        boxes = {
            text.get_text(): text.get_window_extent(canvas.get_renderer())
            for text in figure.findobj(Text)
            if text.get_text() and text.get_visible()
        }
    width, height = canvas.get_width_height()
    out = [t for t, b in boxes.items() if b.x0 < 0 or b.y0 < 0 or b.x1 > width or b.y1 > height]
    assert out == []


def test_pyplot_is_never_loaded():
    code = "import sys; from tests.example_survey import example_survey as e; from analyzer import figures as f"
    code += "; f.files(e()); assert 'matplotlib.pyplot' not in sys.modules"
    subprocess.run([sys.executable, "-c", code], check=True, cwd=Path(__file__).parent.parent)
