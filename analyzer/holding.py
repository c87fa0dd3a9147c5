"""Strings that do not hold: pitch that falls from pluck to pluck.

Task. From the pitches of one string plucked several times, in one recording or in two surveys: whether it fell by more
than chance, and how far.

Method. The last reading is compared with the first. What two plucks of a string in one state may differ by (other
finger, place and strength: `ChangeSettings.repluck_cents`) and both intervals are the joint interval. A harder pluck is
sharper for a moment, for it stretches the string: a first pluck that was louder may have been up to `glide_cents`
sharper for that. A reading between that lies above the first or below the last by more than chance contradicts a fall.

Conventions. Cents, a fall positive; half-widths of 95 %. Never a statement about breaking.

Known limits. Why it fell cannot be heard: a pin that slips, a knot that draws, a string that still stretches, or a
pluck that was another string's. A fall of a few cents hides in the scatter of plucks.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot, log2

from analyzer.settings import HoldingSettings


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One pluck's pitch."""

    pitch_hz: float
    cents_u95: float
    level_db: float | None = None
    """How loud the pluck was, dB below full scale of one recording; None where readings cannot be compared."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fall:
    """A string that fell."""

    cents: float
    u95_cents: float
    plucks_n: int


def fall(
    readings: Sequence[Reading], repluck_cents: float, settings: HoldingSettings, clocks_u95_cents: float = 0.0
) -> Fall | None:
    """Whether a string's pitch fell over `readings` (in the order of time); None where that cannot be shown.

    `repluck_cents`: half-width of what another pluck changes; `clocks_u95_cents`: of what two recorders' clocks do.
    """
    s = settings
    if len(readings) < 2:
        return None
    first, last = readings[0], readings[-1]

    def fell(a: Reading, b: Reading) -> tuple[float, float]:
        return 1200 * log2(a.pitch_hz / b.pitch_hz), hypot(a.cents_u95, b.cents_u95, repluck_cents, clocks_u95_cents)

    cents, u95_cents = fell(first, last)
    if not s.beyond * u95_cents + _glide(first, last, s) < cents < s.most_cents:
        return None
    for between in readings[1:-1]:
        for (down, u95), glide in ((fell(first, between), 0.0), (fell(between, last), _glide(between, last, s))):
            if down < -u95 - glide:
                return None
    return Fall(cents=cents, u95_cents=u95_cents, plucks_n=len(readings))


def _glide(first: Reading, last: Reading, s: HoldingSettings) -> float:
    """How much sharper the first may have been for being louder: the stretch goes with the square of the amplitude."""
    if first.level_db is None or last.level_db is None or first.level_db <= last.level_db:
        return 0.0
    return float(s.glide_cents * (1 - 10 ** ((last.level_db - first.level_db) / 10)))
