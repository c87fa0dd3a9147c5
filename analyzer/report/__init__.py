"""A survey as one HTML file: for the parent who has a minute and the technician who has an hour.

The file asks nothing of any network, is readable with scripts off, and allows by its Content-Security-
Policy only the style and script that are in it, named by their hashes. All that a person typed is escaped
and isolated from the direction of the text around it. The figures are those of `tables`, the sentences
those of `sentences`, the labels those of `words`: here they are only laid out.
"""

import base64
import hashlib
import re
from collections.abc import Mapping
from importlib import resources
from pathlib import PureWindowsPath
from typing import NamedTuple

from analyzer import sentences, tables, words
from analyzer.chart import COLOURS, harp_colours
from analyzer.settings import ReportSettings
from analyzer.survey import PluckRow, StringRow, Survey

SETTINGS = ReportSettings()
CURVE_STEP_S = 0.05
"""Spacing of `StringRow.decay_curve_db`, as the survey defines it."""
CURVE_FLOOR_DB = -60.0
CURVE_BOX = (320.0, 96.0)
HARP_BOX = (300.0, 110.0)


class Line(NamedTuple):
    """One string as the page shows it."""

    row: StringRow
    cells: dict[str, str]
    """Its row of `strings.csv`, so that page and table cannot disagree."""
    states: tuple[str, ...]
    rank: int
    """Place of its first state in `words.STATES`, to sort by."""


class Fade(NamedTuple):
    """A string's decay curve as the points of two lines in CURVE_BOX."""

    measured: str
    expected: str
    """Empty where nothing was expected of the string."""
    length_s: float


class Strand(NamedTuple):
    """One string of the small harp in the heading."""

    x: float
    top: float
    bottom: float
    width: float
    colour: str
    heard: bool


def render(survey: Survey, figures: Mapping[str, str]) -> str:
    """The report; `figures` are the SVG texts by name, `deviation` and `decay`."""
    import jinja2

    style, script = _own("style.css"), _own("script.js")
    environment = jinja2.Environment(
        loader=jinja2.FunctionLoader(_own),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    return environment.get_template("survey.html").render(
        s=survey,
        w=words,
        policy=_policy(style, script),
        style=style,
        script=script,
        title=words.shorten(survey.title, SETTINGS.title_n) or survey.layout.title or words.NO_TITLE,
        summary=sentences.summary_parts(survey),
        figures={name: _inline(svg) for name, svg in figures.items()},
        alts={"deviation": sentences.deviation_alt(survey), "decay": sentences.decay_alt(survey)},
        lines=[_line(row, cells) for row, cells in zip(survey.strings, tables.strings_cells(survey), strict=True)],
        uncounted=[pluck for pluck in survey.plucks if not pluck.counted],
        csv={"strings": tables.strings_csv(survey), "plucks": tables.plucks_csv(survey)},
        said=_said(survey),
        fade=_fade,
        harp=_harp(survey),
        pluck_note=lambda pluck: _note_of(survey, pluck),
        finding_order=tuple(words.SEVERITIES).index,
        box=CURVE_BOX,
        harp_box=HARP_BOX,
        title_n=SETTINGS.title_n,
    )


def _own(name: str) -> str:
    return resources.files(__name__).joinpath(name).read_text("utf-8")


def _policy(style: str, script: str) -> str:
    """The Content-Security-Policy (W3C CSP 3): nothing but this style, this script, and images held in the file."""
    return (
        f"default-src 'none'; style-src '{_hash(style)}'; script-src '{_hash(script)}';"
        " img-src data:; base-uri 'none'; form-action 'none'"
    )


def _hash(text: str) -> str:
    return "sha256-" + base64.b64encode(hashlib.sha256(text.encode("utf-8")).digest()).decode("ascii")


def _inline(svg: str) -> str:
    """The SVG fit to stand within the page: its size and colours left to the page, no style of its own.

    Style attributes become presentation attributes, because the policy does not allow the former.
    """
    svg = svg[svg.index("<svg ") :]
    head, body = svg.split(">", 1)
    head = re.sub(r' (width|height|version|xmlns(:\w+)?)="[^"]*"', "", head)
    body = re.sub(r"<style.*?</style>|<metadata>.*?</metadata>", "", body, flags=re.DOTALL)
    svg = f'{head} stroke-linejoin="round" stroke-linecap="butt">{body}'
    svg = re.sub(r' style="([^"]*)"', lambda match: _attributes(match[1]), svg)
    for name, colour in COLOURS.items():
        svg = svg.replace(f'"{colour}"', f'"var(--{name})"')
    return svg


def _attributes(style: str) -> str:
    pairs = (part.split(":", 1) for part in style.split(";") if part.strip())
    return "".join(f' {name.strip()}="{value.strip()}"' for name, value in pairs)


def _line(row: StringRow, cells: dict[str, str]) -> Line:
    states = words.states(row)
    return Line(row=row, cells=cells, states=states, rank=tuple(words.STATES).index(states[0]))


def _note_of(survey: Survey, pluck: PluckRow) -> str:
    return next((words.note(row.note) for row in survey.strings if row.string == pluck.string), "")


def _said(survey: Survey) -> list[tuple[str, str]]:
    """What was said, without the folders of the machine it was said on."""
    return [
        (option, PureWindowsPath(value).name if option == "layout" else value) for option, value in survey.said.items()
    ]


def _fade(row: StringRow) -> Fade | None:
    """The decay curve of a string that was heard."""
    curve = row.decay_curve_db
    if len(curve) < 2:
        return None
    width, height = CURVE_BOX
    length_s = CURVE_STEP_S * (len(curve) - 1)
    measured = [(k / (len(curve) - 1), max(level, CURVE_FLOOR_DB) / CURVE_FLOOR_DB) for k, level in enumerate(curve)]
    expected: list[tuple[float, float]] = []
    if row.expected_decay_s is not None:
        share = row.expected_decay_s / length_s
        expected = [(0.0, 0.0), (min(share, 1.0), min(1.0 / share, 1.0))]
    return Fade(
        measured=" ".join(f"{x * width:.1f},{y * height:z.1f}" for x, y in measured),
        expected=" ".join(f"{x * width:.1f},{y * height:z.1f}" for x, y in expected),
        length_s=length_s,
    )


def _harp(survey: Survey) -> list[Strand]:
    """The strings between a curved neck and a slanting soundboard, as an ornament; those not heard are dotted."""
    width, height = HARP_BOX
    colours = harp_colours(survey)
    n = len(survey.strings)
    strands = []
    for i, row in enumerate(survey.strings):
        place = i / max(n - 1, 1)
        neck = 4.0 + 26.0 * (1.0 - (2.0 * place - 1.0) ** 2)
        board = height - 4.0 - 62.0 * place
        strands.append(
            Strand(
                x=4.0 + place * (width - 8.0),
                top=neck,
                bottom=board,
                width=1.9 - 1.1 * place,
                colour=colours[i],
                heard=row.status != "not heard",
            )
        )
    return strands
