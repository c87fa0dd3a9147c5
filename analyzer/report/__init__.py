"""A survey as one HTML file: for the parent who has a minute and the technician who has an hour.

The file asks nothing of any network, is readable with scripts off, and allows by its Content-Security-
Policy only the style and script that are in it, named by their hashes. All that a person typed is escaped
and isolated from the direction of the text around it. The figures are those of `tables`, the sentences
those of `sentences`, the labels those of `words`: here they are only laid out.
"""

import base64
import re
from collections.abc import Mapping
from pathlib import PureWindowsPath
from types import MappingProxyType
from typing import NamedTuple

from analyzer import paying_words, plan_words, sentences, tables, words
from analyzer.chart import COLOURS, harp_colours
from analyzer.clips import Clip
from analyzer.outlook import Outlook, look_ahead
from analyzer.report import curves
from analyzer.report.page import fill
from analyzer.restating import restated
from analyzer.settings import ReportSettings
from analyzer.speech import Spoken, say
from analyzer.survey import PluckRow, StringRow, Survey

SETTINGS = ReportSettings()
HARP_BOX = (300.0, 110.0)


class Line(NamedTuple):
    """One string as the page shows it."""

    row: StringRow
    cells: dict[str, str]
    """Its row of `strings.csv`, so that page and table cannot disagree."""
    states: tuple[str, ...]
    rank: int
    """Place of its first state in `words.STATES`, to sort by."""
    clip: str
    """Its pluck, Opus in base64; empty where there is none to listen to."""
    neighbour: StringRow | None
    """A string nearby that sounds as it should, to hear a string in doubt against."""
    spectrum: str
    fade: str
    """Its drawings as SVG; empty where there is nothing to draw."""


class Strand(NamedTuple):
    """One string of the small harp in the heading."""

    x: float
    top: float
    bottom: float
    width: float
    colour: str
    heard: bool


def render(
    survey: Survey,
    figures: Mapping[str, str],
    clips: Mapping[str, Clip] = MappingProxyType({}),
    outlook: Outlook | None = None,
) -> str:
    """The report, in the manner of the moment.

    `figures` are the SVG texts by name: `deviation` and `decay`, and `deviation-narrow` and `decay-narrow` for narrow
    pages; `clips` are the strings' clips by string; `outlook` is what lies ahead, by default with nothing answered.
    """
    cells = tables.strings_cells(survey)
    ahead = outlook or look_ahead(survey)
    return fill(
        "survey.html",
        texts=plan_words,
        title=title(survey),
        kind=say(words.KIND),
        date=survey.date,
        version=survey.program_version,
        made_at=survey.made_at,
        s=survey,
        o=ahead,
        first=first_line(survey, ahead),
        named=lambda text: sentences.by_notes(survey, text),
        grave=grave(ahead),
        pay=Spoken(paying_words),
        foreseen=foreseen(ahead),
        doubted=doubted(ahead),
        summary=sentences.summary_parts(survey, ahead.answers),
        figures={name: _inline(svg) for name, svg in figures.items()},
        alts={"deviation": sentences.deviation_alt(survey), "decay": sentences.decay_alt(survey)},
        lines=[_line(survey, k, one, clips) for k, one in enumerate(cells)],
        clips_n=len(clips),
        states_here={state for row in survey.strings for state in words.states(row)},
        uncounted=[pluck for pluck in survey.plucks if not pluck.counted],
        csv={"strings": _csv_rows(survey, cells), "plucks": tables.plucks_csv(survey)},
        said=said(survey),
        by_eye=sentences.by_eye(survey),
        harp=_harp(survey),
        pluck_note=lambda pluck: note_of(survey, pluck),
        harp_box=HARP_BOX,
        title_n=SETTINGS.title_n,
    )


def first_line(survey: Survey, outlook: Outlook) -> tuple[str, str]:
    """Whether it may be played, and the rest of the line."""
    verdict, rest = paying_words.first_line(outlook)
    return verdict, sentences.by_notes(survey, rest)


def grave(outlook: Outlook) -> bool:
    """Whether the first line says not to play it."""
    return outlook.paying is not None and outlook.paying.playable == "do not play"


def doubted(outlook: Outlook) -> bool:
    """Whether it is open which string is which."""
    return any(question.code == "doubts" for question in outlook.to_answer)


def foreseen(outlook: Outlook) -> tuple[str, ...]:
    """What can be said of the load and the work before there is a plan; of work nothing where the reading is open."""
    known = outlook.preview.sentences
    if outlook.preview.passes_n is None or doubted(outlook):
        return known[:1]
    return known[:-1] if outlook.preview.passes_n else known


def title(survey: Survey) -> str:
    """What the instrument is called, cut to a heading's length."""
    return words.shorten(survey.title, SETTINGS.title_n) or restated(survey.layout.title).text or say(words.NO_TITLE)


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


def _line(survey: Survey, k: int, cells: dict[str, str], clips: Mapping[str, Clip]) -> Line:
    row = survey.strings[k]
    states, clip = words.states(row), clips.get(row.string)
    doubtful = any(words.STATES[state].tone == "bad" for state in states)
    return Line(
        row=row,
        cells=cells,
        states=states,
        rank=tuple(words.STATES).index(states[0]),
        clip=base64.b64encode(clip.opus).decode("ascii") if clip else "",
        neighbour=_neighbour(survey, k, clips) if clip and doubtful else None,
        spectrum=_inline(svg) if (svg := curves.spectrum(row, clip)) else "",
        fade=_inline(svg) if (svg := curves.fade(row)) else "",
    )


def _neighbour(survey: Survey, k: int, clips: Mapping[str, Clip]) -> StringRow | None:
    """The nearest string that is heard for certain, sounds as it should and can be listened to; the upper of two."""
    good = [
        (abs(k - j), -j)
        for j, row in enumerate(survey.strings)
        if words.states(row) == ("sound",) and row.string in clips
    ]
    return survey.strings[-min(good)[1]] if good else None


def _csv_rows(survey: Survey, cells: list[dict[str, str]]) -> list[str]:
    """`strings.csv` row by row, its heading first, so that the page can copy some of the rows."""
    return [
        tables.csv_text(tables.STRING_COLUMNS, []),
        *(tables.csv_text(cells[0], [one], head=False) for one in cells),
    ]


def note_of(survey: Survey, pluck: PluckRow) -> str:
    """The note of the string that a pluck was given to, as people write it."""
    return next((words.note(row.note) for row in survey.strings if row.string == pluck.string), "")


def said(survey: Survey) -> list[tuple[str, str]]:
    """What was said, without the folders of the machine it was said on."""
    return [
        (option, PureWindowsPath(value).name if option in ("layout", "reference-survey") else value)
        for option, value in survey.said.items()
    ]


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
