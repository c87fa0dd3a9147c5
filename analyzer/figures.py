"""A survey as charts: how far each string is off, and how long each rings, as SVG and PNG.

A string far off the others (an octave low) is drawn in a lane of its own with its figure, so that the rest
stays readable. The same survey gives the same bytes: no date, and a salt of its own for each SVG's
identifiers. Drawn with matplotlib's Figure alone, without pyplot's global state; what all charts of a harp
share is in `chart`, and the look in house.mplstyle.
"""

import io
import math
import re
from collections.abc import Callable
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING

from analyzer import sentences, words
from analyzer.chart import (
    COLOURS,
    draw_legend,
    draw_marks,
    draw_not_heard,
    draw_strings,
    write_aside,
    write_beside,
)
from analyzer.settings import ReportSettings
from analyzer.survey import StringRow, Survey

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

SETTINGS = ReportSettings()
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


def _drawn(name: str, survey: Survey, kinds: tuple[str, ...]) -> dict[str, bytes]:
    import matplotlib
    from matplotlib.figure import Figure

    draw, title, alt = _CHARTS[name]
    done = {}
    with matplotlib.rc_context():
        matplotlib.rc_file(STYLE)  # from matplotlib's defaults, not from the person's own settings
        matplotlib.rcParams["svg.hashsalt"] = name
        figure = Figure()
        draw(figure, survey)
        for kind in kinds:
            out = io.BytesIO()
            blank = ("Date", "Creator", "Format", "Type") if kind == "svg" else ("Software",)
            figure.savefig(out, format=kind, metadata=dict.fromkeys(blank))
            done[kind] = out.getvalue()
    if "svg" in done:
        done["svg"] = _with_words(done["svg"].decode("utf-8"), name, title, alt(survey)).encode("utf-8")
    return done


def _with_words(svg: str, name: str, title: str, alt: str) -> str:
    """The SVG with a title and its text alternative, and identifiers that no other chart on a page has."""
    svg = re.sub(r'(?<=\bid=")|(?<="#)|(?<=url\(#)', f"{name}-", svg)
    start = svg.index("<svg ")
    end = svg.index(">", start)
    named = f' role="img" aria-labelledby="{name}-title {name}-desc">'
    about = f'\n <title id="{name}-title">{escape(title)}</title>\n <desc id="{name}-desc">{escape(alt)}</desc>'
    return svg[:end] + named + about + svg[end + 1 :]


# --- the deviation chart


def _draw_deviation(figure: "Figure", survey: Survey) -> None:
    figure.set_size_inches(11.4, 5.4)
    ax = figure.add_axes((0.065, 0.19, 0.835, 0.74))
    measured = [(x, row) for x, row in enumerate(survey.strings) if row.cents is not None]
    low, high, far = _scale([row.cents for _, row in measured if row.cents is not None])
    lane = 0.12 * (high - low)
    bottom = low - (lane if any(_beyond(row, far) < 0 for _, row in measured) else 0.0)
    top = high + (lane if any(_beyond(row, far) > 0 for _, row in measured) else 0.0)
    ax.set_ylim(bottom, top)
    _cents_axis(ax, low, high)
    draw_strings(ax, survey)
    marks = []
    for x, row in measured:
        cents, side = row.cents or 0.0, _beyond(row, far)
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
            write_aside(ax, middle, words.OFF_SCALE, COLOURS["soft"])
    draw_not_heard(ax, survey)
    draw_legend(figure, survey, [])


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
    cents = row.cents or 0.0
    return 0 if abs(cents) <= far else (-1 if cents < 0 else 1)


def _cents_axis(ax: "Axes", low: float, high: float) -> None:
    """Ticks in cents at the left, the semitones named at the right, with a line across for each."""
    span = high - low
    step = next((s for s in (20, 50, 100, 200) if span / s <= 9), 500)
    ticks = [step * k for k in range(math.ceil(low / step), math.floor(high / step) + 1)]
    ax.set_yticks(ticks, [words.number(tick, 0) for tick in ticks])
    ax.set_ylabel(words.CENTS_AXIS)
    ax.axhline(0.0, color=COLOURS["good"], linewidth=1.6, zorder=1.5)
    write_aside(ax, 0.0, words.IN_TUNE, COLOURS["good"])
    every = max(1, math.ceil(span / 100 / 9))
    for k in range(math.ceil(low / 100), math.floor(high / 100) + 1):
        if k % every == 0 and k != 0:
            ax.axhline(100.0 * k, color=COLOURS["line"], linewidth=0.8, zorder=0.5)
            side = words.FLAT if k < 0 else words.SHARP
            text = words.SEMITONES_AWAY[abs(k) > 1].format(abs(k), side)
            write_aside(ax, 100.0 * k, text, COLOURS["soft"])


# --- the decay chart


def _draw_decay(figure: "Figure", survey: Survey) -> None:
    bright = any(row.brightness_db is not None for row in survey.strings)
    figure.set_size_inches(11.4, 6.6 if bright else 4.8)
    ax = figure.add_axes((0.065, 0.44, 0.92, 0.51) if bright else (0.065, 0.21, 0.92, 0.72))
    _decay_axis(ax, survey)
    draw_strings(ax, survey, labelled=not bright)
    expected = [(x, row.expected_decay_s) for x, row in enumerate(survey.strings) if row.expected_decay_s]
    dashed = ax.plot(
        [x for x, _ in expected],
        [seconds for _, seconds in expected],
        color=COLOURS["soft"],
        linewidth=1.4,
        dashes=(6, 3),
        zorder=2,
        label=words.EXPECTED,
    )
    timed = [(x, row) for x, row in enumerate(survey.strings) if row.decay_s is not None]
    draw_marks(ax, [(x, row.decay_s or 0.0, row.decay_u95_s, row) for x, row in timed])
    draw_not_heard(ax, survey)
    if bright:
        below = figure.add_axes((0.065, 0.155, 0.92, 0.23))
        _brightness_axis(below, survey)
        draw_strings(below, survey)
        figure.align_ylabels([ax, below])
    draw_legend(figure, survey, dashed if expected else [])


def _brightness_axis(ax: "Axes", survey: Survey) -> None:
    shown = [(x, row) for x, row in enumerate(survey.strings) if row.brightness_db is not None]
    values = [row.brightness_db or 0.0 for _, row in shown]
    room = 0.1 * (max(values) - min(values)) + 1.0
    ax.set_ylim(min(values) - room, max(values) + room)
    ax.set_ylabel(words.BRIGHT_AXIS)
    ax.locator_params(axis="y", nbins=4)
    ax.grid(axis="y")
    draw_marks(ax, [(x, row.brightness_db or 0.0, None, row) for x, row in shown])


def _decay_axis(ax: "Axes", survey: Survey) -> None:
    values = [v for row in survey.strings for v in (row.decay_s, row.expected_decay_s) if v]
    low, high = min(values, default=0.5) / 1.25, max(values, default=8.0) * 1.25
    ax.set_yscale("log")
    ax.set_ylim(low, high)
    ticks = [v for v in (0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50) if low <= v <= high]
    ax.set_yticks(ticks, [f"{v:g}" for v in ticks])
    ax.set_yticks([], minor=True)
    ax.set_ylabel(words.DECAY_AXIS)
    ax.grid(axis="y")


_CHARTS: dict[str, tuple[Callable[["Figure", Survey], None], str, Callable[[Survey], str]]] = {
    "deviation": (_draw_deviation, words.DEVIATION, sentences.deviation_alt),
    "decay": (_draw_decay, words.DECAY, sentences.decay_alt),
}
