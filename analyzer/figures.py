"""A survey as charts: how far each string is off, and how long each rings, as SVG and PNG.

A string far off the others (an octave low) is drawn in a lane of its own with its figure, so that the rest
stays readable. The same survey gives the same bytes: no date, and a salt of its own for each SVG's
identifiers. Drawn with matplotlib's Figure alone, without pyplot's global state; what all charts of a harp
share is in `chart`, and the look in house.mplstyle. For a narrow page the harp is cut into parts, one below
another, on the same scale.
"""

import io
import math
import re
from collections.abc import Callable
from dataclasses import replace
from html import escape
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING

from analyzer import sentences, words
from analyzer.chart import (
    COLOURS,
    draw_legend,
    draw_marks,
    draw_not_heard,
    draw_strings,
    stacked,
    write_aside,
    write_beside,
)
from analyzer.settings import ReportSettings
from analyzer.speech import say
from analyzer.survey import StringRow, Survey

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

SETTINGS = ReportSettings()
NARROW = "-narrow"
STYLE = Path(__file__).with_name("house.mplstyle")


def deviation(survey: Survey) -> str:
    """The deviation chart as SVG."""
    return _drawn("deviation", survey, ("svg",))["svg"].decode("utf-8")


def decay(survey: Survey) -> str:
    """The decay and brightness chart as SVG."""
    return _drawn("decay", survey, ("svg",))["svg"].decode("utf-8")


def deviation_alt(survey: Survey) -> str:
    """What the deviation chart shows in this case, in words."""
    return sentences.deviation_alt(survey)


def decay_alt(survey: Survey) -> str:
    """What the decay chart shows in this case, in words."""
    return sentences.decay_alt(survey)


def files(survey: Survey, folder: str = "figures") -> dict[str, bytes]:
    """Both charts as SVG and PNG: `figures/deviation.svg` -> its bytes."""
    return {
        f"{folder}/{name}.{kind}": data
        for name in _CHARTS
        for kind, data in _drawn(name, survey, ("svg", "png")).items()
    }


def narrow(survey: Survey) -> dict[str, str]:
    """Both charts as SVG for a narrow page, `deviation-narrow` and `decay-narrow`: a part of the harp below another."""
    return {f"{name}{NARROW}": _drawn(name, survey, ("svg",), narrow=True)["svg"].decode("utf-8") for name in _CHARTS}


def _drawn(name: str, survey: Survey, kinds: tuple[str, ...], *, narrow: bool = False) -> dict[str, bytes]:
    import matplotlib
    from matplotlib.figure import Figure

    draw, title, alt = _CHARTS[name]
    name += NARROW if narrow else ""
    done = {}
    with matplotlib.rc_context():
        matplotlib.rc_file(STYLE)  # from matplotlib's defaults, not from the person's own settings
        matplotlib.rcParams["svg.hashsalt"] = name
        figure = Figure()
        draw(figure, survey, _narrow_parts(survey) if narrow else (survey,))
        for kind in kinds:
            out = io.BytesIO()
            blank = ("Date", "Creator", "Format", "Type") if kind == "svg" else ("Software",)
            figure.savefig(out, format=kind, metadata=dict.fromkeys(blank))
            done[kind] = out.getvalue()
    if "svg" in done:
        done["svg"] = _with_words(done["svg"].decode("utf-8"), name, say(title), alt(survey)).encode("utf-8")
    return done


def _narrow_parts(survey: Survey) -> tuple[Survey, ...]:
    """The survey cut into parts of nearly the same number of strings, few enough for a narrow page."""
    n = len(survey.strings)
    parts_n = max(1, math.ceil(n / SETTINGS.narrow_strings_n))
    cuts = [round(n * k / parts_n) for k in range(parts_n + 1)]
    return tuple(replace(survey, strings=survey.strings[a:b]) for a, b in pairwise(cuts))


def _with_words(svg: str, name: str, title: str, alt: str) -> str:
    """The SVG with a title and its text alternative, and identifiers that no other chart on a page has."""
    svg = re.sub(r'(?<=\bid=")|(?<="#)|(?<=url\(#)', f"{name}-", svg)
    start = svg.index("<svg ")
    end = svg.index(">", start)
    named = f' role="img" aria-labelledby="{name}-title {name}-desc">'
    about = f'\n <title id="{name}-title">{escape(title)}</title>\n <desc id="{name}-desc">{escape(alt)}</desc>'
    return svg[:end] + named + about + svg[end + 1 :]


# --- the deviation chart


def _draw_deviation(figure: "Figure", survey: Survey, parts: tuple[Survey, ...]) -> None:
    low, high, far = _scale([row.cents for row in survey.strings if row.cents is not None])
    lane = 0.12 * (high - low)
    bottom = low - (lane if any(_beyond(row, far) < 0 for row in survey.strings) else 0.0)
    top = high + (lane if any(_beyond(row, far) > 0 for row in survey.strings) else 0.0)
    for ax, part in zip(stacked(figure, parts, (5.4,), (2.5,), aside=1.24), parts, strict=True):
        ax.set_ylim(bottom, top)
        _cents_axis(ax, low, high, brief=len(parts) > 1)
        draw_strings(ax, part)
        marks = []
        for x, row in enumerate(part.strings):
            cents, side = row.cents or 0.0, _beyond(row, far)
            if row.cents is None:
                continue
            if side == 0:
                marks.append((x, cents, row.cents_u95, row))
            else:
                y = low - 0.62 * lane if side < 0 else high + 0.62 * lane
                marks.append((x, y, None, row))
                write_beside(ax, x, y, words.number(cents, 0))
        draw_marks(ax, marks)
        for edge, beyond in ((low, bottom < low), (high, top > high)):
            if beyond:
                ax.axhline(edge, color=COLOURS["soft"], linewidth=0.8, dashes=(5, 4))
                middle = (edge + (bottom if edge == low else top)) / 2
                write_aside(ax, middle, _brief(say(words.OFF_SCALE), len(parts) > 1), COLOURS["soft"])
        draw_not_heard(ax, part)
    draw_legend(figure, survey, [])


def _brief(text: str, brief: bool) -> str:
    """The text, in two lines where there is little room."""
    return "\n".join(text.rsplit(" ", 1)) if brief else text


def _scale(cents: list[float]) -> tuple[float, float, float]:
    """Lowest and highest end of the scale, and how far off a string may be to be drawn on it, in cents."""
    off = sorted(abs(value) for value in cents)
    kept = off[math.ceil(SETTINGS.scale_share * len(off)) - 1] if off else 0.0
    far = max(SETTINGS.scale_cents, kept)
    near = [value for value in cents if abs(value) <= far]
    low, high = min(near, default=0.0), max(near, default=0.0)
    room = 0.06 * max(high, 0.0) - 0.06 * min(low, 0.0)
    least = SETTINGS.least_span_cents
    return min(low - room, -least), max(high + room, least), far


def _beyond(row: StringRow, far: float) -> int:
    """−1 for a string off the scale below, 1 above, 0 on it."""
    cents = row.cents or 0.0  # a string without a figure is on no scale
    return 0 if abs(cents) <= far else (-1 if cents < 0 else 1)


def _cents_axis(ax: "Axes", low: float, high: float, *, brief: bool) -> None:
    """Ticks in cents at the left, the semitones named at the right where there is room, a line across for each."""
    span = high - low
    step = next((s for s in (20, 50, 100, 200) if span / s <= 9), 500)
    ticks = [step * k for k in range(math.ceil(low / step), math.floor(high / step) + 1)]
    ax.set_yticks(ticks, [words.number(tick, 0) for tick in ticks])
    ax.set_ylabel(say(words.CENTS_AXIS))
    ax.axhline(0.0, color=COLOURS["good"], linewidth=1.6, zorder=1.5)
    write_aside(ax, 0.0, _brief(say(words.IN_TUNE), brief), COLOURS["good"])
    every = max(1, math.ceil(span / 100 / 9))
    for k in range(math.ceil(low / 100), math.floor(high / 100) + 1):
        if k % every == 0 and k != 0:
            ax.axhline(100.0 * k, color=COLOURS["line"], linewidth=0.8, zorder=0.5)
            side = say(words.FLAT if k < 0 else words.SHARP)
            text = say(words.SEMITONES_AWAY[abs(k) > 1]).format(abs(k), side)
            if not brief:
                write_aside(ax, 100.0 * k, text, COLOURS["soft"])


# --- the decay chart


def _draw_decay(figure: "Figure", survey: Survey, parts: tuple[Survey, ...]) -> None:
    bright = any(row.brightness_db is not None for row in survey.strings)
    heights, narrow_heights = ((4.4, 2.2), (2.3, 1.5)) if bright else ((4.8,), (2.5,))
    panels = iter(stacked(figure, parts, heights, narrow_heights, aside=0.15))
    lines = []
    for part in parts:
        ax = next(panels)
        _decay_axis(ax, survey)
        draw_strings(ax, part, labelled=not bright)
        expected = [(x, row.expected_decay_s) for x, row in enumerate(part.strings) if row.expected_decay_s]
        if expected:
            lines = ax.plot(
                *zip(*expected, strict=True),
                color=COLOURS["soft"],
                linewidth=1.4,
                dashes=(6, 3),
                zorder=2,
                label=say(words.EXPECTED),
            )
        heard = [(x, row.decay_s, row) for x, row in enumerate(part.strings) if row.decay_s is not None]
        draw_marks(ax, [(x, decay_s, row.decay_u95_s, row) for x, decay_s, row in heard if words.is_timed(row)])
        draw_marks(ax, [(x, decay_s, None, row) for x, decay_s, row in heard if not words.is_timed(row)], faint=True)
        draw_not_heard(ax, part)
        if bright:
            below = next(panels)
            _brightness_axis(below, survey)
            draw_strings(below, part)
            shown = [(x, row) for x, row in enumerate(part.strings) if row.brightness_db is not None]
            draw_marks(below, [(x, row.brightness_db or 0.0, None, row) for x, row in shown])
            figure.align_ylabels([ax, below])
    draw_legend(figure, survey, lines)


def _brightness_axis(ax: "Axes", survey: Survey) -> None:
    values = [row.brightness_db for row in survey.strings if row.brightness_db is not None]
    room = 0.1 * (max(values) - min(values)) + 1.0
    ax.set_ylim(min(values) - room, max(values) + room)
    ax.set_ylabel(say(words.BRIGHT_AXIS))
    ax.locator_params(axis="y", nbins=4)
    ax.grid(axis="y")


def _decay_axis(ax: "Axes", survey: Survey) -> None:
    values = [v for row in survey.strings for v in (row.decay_s, row.expected_decay_s) if v]
    low, high = min(values, default=0.5) / 1.25, max(values, default=8.0) * 1.25
    ax.set_yscale("log")
    ax.set_ylim(low, high)
    ticks = [v for v in (0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50) if low <= v <= high]
    ax.set_yticks(ticks, [words.number(v, 1 if v < 1 else 0) for v in ticks])
    ax.set_yticks([], minor=True)
    ax.set_ylabel(say(words.DECAY_AXIS))
    ax.grid(axis="y")


_CHARTS: dict[str, tuple[Callable[["Figure", Survey, tuple[Survey, ...]], None], str, Callable[[Survey], str]]] = {
    "deviation": (_draw_deviation, words.DEVIATION, sentences.deviation_alt),
    "decay": (_draw_decay, words.DECAY, sentences.decay_alt),
}
NAMES = tuple(_CHARTS)
"""The charts, in the order of the report."""
