"""The small drawings of one string, as SVG, the same on page and paper: what its sound is made of, and how it fades."""

import math
from html import escape

from analyzer import words
from analyzer.chart import COLOURS
from analyzer.clips import Clip
from analyzer.settings import ClipSettings
from analyzer.speech import say
from analyzer.survey import StringRow
from analyzer.words import number

SETTINGS = ClipSettings()
CURVE_STEP_S = 0.05
"""Spacing of `StringRow.decay_curve_db`, as the survey defines it."""
FLOOR_DB = -60.0
WIDTH, HEIGHT = 320.0, 96.0
_LEFT, _RIGHT, _ABOVE, _BELOW = 40, 10, 10, 22
TICKS_HZ = (50, 100, 200, 500, 1000, 2000, 5000)


def fade(row: StringRow) -> str:
    """The decay curve, dashed what was expected of the string; empty where it has none."""
    curve = row.decay_curve_db
    if len(curve) < 2:
        return ""
    length_s = CURVE_STEP_S * (len(curve) - 1)
    measured = [(WIDTH * k / (len(curve) - 1), _depth(level, FLOOR_DB)) for k, level in enumerate(curve)]
    drawn = _line(measured, COLOURS["good"], 2)
    if row.expected_decay_s is not None:
        share = row.expected_decay_s / length_s
        end = (WIDTH * min(share, 1.0), HEIGHT * min(1.0 / share, 1.0))
        drawn = _line([(0.0, 0.0), end], COLOURS["soft"], 1.2, ' stroke-dasharray="5 4"') + drawn
    drawn += _text(0, HEIGHT + 15, "0 s") + _text(WIDTH, HEIGHT + 15, f"{number(length_s, 1)} s", "end")
    return _svg(drawn, fade_alt(row), FLOOR_DB)


def fade_alt(row: StringRow) -> str:
    """What the decay curve shows in this case; empty where there is none."""
    curve = row.decay_curve_db
    if len(curve) < 2:
        return ""
    length_s = CURVE_STEP_S * (len(curve) - 1)
    return say(words.FADE_ALT).format(length=number(length_s, 1), fallen=number(-min(curve[-1], 0.0), 0))


def spectrum(row: StringRow, clip: Clip | None) -> str:
    """The spectrum of the clip with ticks at the measured partials, or the partials alone; empty without any."""
    if not row.partials:
        return ""
    floor_db = SETTINGS.spectrum_floor_db
    low_hz, high_hz = SETTINGS.spectrum_lowest_hz, SETTINGS.spectrum_highest_hz

    def x(hz: float) -> float:
        return WIDTH * min(max(math.log(hz / low_hz) / math.log(high_hz / low_hz), 0.0), 1.0)

    drawn = ""
    for hz in TICKS_HZ:
        name = f"{hz // 1000} kHz" if hz >= 1000 else f"{hz} Hz" if hz == TICKS_HZ[0] else str(hz)
        drawn += _line([(x(hz), HEIGHT), (x(hz), HEIGHT + 3)], COLOURS["soft"], 1)
        drawn += _text(x(hz), HEIGHT + 15, name, "middle")
    strongest = max(row.partials, key=lambda partial: partial.level_db)
    for partial in row.partials:
        top = _depth(partial.level_db - strongest.level_db, floor_db)
        ends = [(x(partial.frequency_hz), -8.0), (x(partial.frequency_hz), -2.0)]
        if clip is None:
            ends = [(x(partial.frequency_hz), top), (x(partial.frequency_hz), HEIGHT)]
        drawn += _line(ends, COLOURS["bad"], 1.6)
    if clip is not None:
        points = [(x(hz), _depth(db, floor_db)) for hz, db in zip(clip.spectrum_hz, clip.spectrum_db, strict=True)]
        drawn += _line(points, COLOURS["good"], 1.4)
    return _svg(drawn, spectrum_alt(row), floor_db)


def spectrum_alt(row: StringRow) -> str:
    """What the spectrum shows in this case; empty where there is none."""
    if not row.partials:
        return ""
    return say(words.SPECTRUM_ALT).format(
        n=len(row.partials),
        low=number(row.partials[0].frequency_hz, 0),
        high=number(row.partials[-1].frequency_hz, 0),
        strongest=max(row.partials, key=lambda partial: partial.level_db).number,
    )


def _depth(level_db: float, floor_db: float) -> float:
    """How far below the top a level is drawn."""
    return HEIGHT * min(max(level_db / floor_db, 0.0), 1.0)


def _line(points: list[tuple[float, float]], colour: str, width: float, more: str = "") -> str:
    path = " ".join(f"{a:.1f},{b:z.1f}" for a, b in points)
    return f'<polyline points="{path}" fill="none" stroke="{colour}" stroke-width="{width:g}"{more}/>'


def _text(x: float, y: float, text: str, anchor: str = "start") -> str:
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" fill="{COLOURS["soft"]}" font-size="11"'
        f' font-family="DejaVu Sans">{escape(text)}</text>'
    )


def _svg(drawn: str, alt: str, floor_db: float) -> str:
    frame = _line([(0.0, 0.0), (0.0, HEIGHT), (WIDTH, HEIGHT)], COLOURS["soft"], 1)
    labels = _text(-6, 4, "0 dB", "end") + _text(-6, HEIGHT + 3, number(floor_db, 0), "end")
    across, down = WIDTH + _LEFT + _RIGHT, HEIGHT + _ABOVE + _BELOW
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{across:g}" height="{down:g}"'
        f' viewBox="{-_LEFT} {-_ABOVE} {across:g} {down:g}" role="img" aria-label="{escape(alt)}">'
        f"{frame}{labels}{drawn}</svg>"
    )
