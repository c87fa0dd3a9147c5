"""How notes, numbers, amounts and lists are written for people, in the manner of the moment (`speech`).

Notes in prose are written `E♭2`, a minus is U+2212, and a figure has no more digits than its interval allows
(Particle Data Group, "Review of Particle Physics", Introduction, Rounding: two digits of the uncertainty where
they are 10 to 35, else one).
"""

import math
import re
from typing import TYPE_CHECKING

from analyzer.notes import harp_octave
from analyzer.speech import manner, say, say_for, say_many
from analyzer.survey import PartialRow, StringRow

if TYPE_CHECKING:
    from analyzer.decay import Decay

MINUS, FLAT_SIGN, SHARP_SIGN, ELLIPSIS, NO_BREAK = "\u2212", "\u266d", "\u266f", "\u2026", "\u00a0"
_BEFORE_UNIT = re.compile(
    r"(?<=\d) (?=(?:%|cents?|Cent|k?Hz|dB|k?N|mm|cm|min|s|h|semitones?|Halbt(?:on|öne)|strings?|Saiten?)(?![\w’]))"
    r"|(?<=[±<>=]) (?=[\d−+])|(?<=A4) (?==)"
)
"""Spaces between a figure and its unit, or its sign."""
_BELOW_ZERO = re.compile(r"(?<=[ (])-(?=\d+(?:[.,]\d+)? [cC]ents?\b)")
_TIGHT_PERCENT = re.compile(r"(?<=\d)%(?![\w%])")
_NOTE = re.compile(r"([A-G])([#b]*)(-?\d+)")


def note(name: str) -> str:
    """`Eb2` as people write it: `E♭2`, or `6E♭` where octaves are counted as harpists do."""
    parts = _NOTE.fullmatch(name)
    if not parts:
        return name
    letter, accidental, octave = parts.groups()
    sign = accidental.replace("b", FLAT_SIGN).replace("#", SHARP_SIGN)
    return harp_octave(letter + octave) + sign if manner().harp_octaves else letter + sign + octave


def number(value: float, decimals_n: int) -> str:
    """A number for people, rounded (below 0 decimals: to tens), with a real minus and no minus zero."""
    return localised(f"{round(value, decimals_n):z.{max(decimals_n, 0)}f}")


def localised(cell: str) -> str:
    """A number as tables for scripts have it, with a real minus and the language's decimal sign."""
    return cell.replace("-", MINUS).replace(".", say_for("decimal sign", "."))


def decimals(u95: float, finest_n: int = 2) -> int:
    """How many decimals a figure with this interval deserves; at most `finest_n`, −1 means tens."""
    if u95 <= 0.0:
        return finest_n
    exponent = math.floor(math.log10(u95))
    three_digits = round(u95 / 10.0 ** (exponent - 2))
    two_kept = three_digits < 355
    return min(int(two_kept) - exponent, finest_n)


def measured(value: float | None, u95: float | None) -> tuple[str, str]:
    """A figure and its half-width, `("−101.4", "± 0.8")`; the second is empty where the interval is not known."""
    if value is None:
        return "", ""
    if u95 is None:
        return number(value, 0), ""
    decimals_n = decimals(u95)
    return number(value, decimals_n), f"± {number(max(u95, 10.0**-decimals_n), decimals_n)}"


def hertz(row: StringRow) -> str:
    """The measured pitch with as many digits as its interval in cents allows; empty where it is not known."""
    if row.pitch_hz is None or row.cents_u95 is None:
        return "" if row.pitch_hz is None else number(row.pitch_hz, 0)
    u95_hz = row.pitch_hz * (2.0 ** (row.cents_u95 / 1200.0) - 1.0)
    return number(row.pitch_hz, decimals(u95_hz, 3))


def is_timed(one: "StringRow | Decay") -> bool:
    """Whether its decay time is told: of one that was cut off early, whose interval reaches down to 0, hardly the size
    is known."""
    return one.decay_s is not None and (one.decay_u95_s or 0.0) < one.decay_s


def partial_cells(partial: PartialRow) -> tuple[str, ...]:
    """A partial's row: its number, frequency in Hz, level in dB, decay time in s."""
    return (
        str(partial.number),
        number(partial.frequency_hz, 1),
        number(partial.level_db, 0),
        "" if partial.t60_s is None else number(partial.t60_s, 1),
    )


def percent(probability: float) -> str:
    """`64 %`; never 100 % for what is not certain, nor 0 % for what is not impossible."""
    whole = round(100.0 * probability)
    if whole == 100 and probability < 1.0:
        return "> 99 %"
    return "< 1 %" if whole == 0 and probability > 0.0 else f"{whole} %"


def share(part: float) -> str:
    """A part of a whole that may be more than the whole, as a load: `74 %`."""
    return f"{number(100.0 * part, 0)} %"


def two_digits(value: float) -> float:
    """Rounded to two significant digits, for what is known no closer."""
    return float(f"{value:.1e}")


def amount(cents: float) -> str:
    """How far, without its direction: `82 cents`, `4.2 semitones`."""
    far = abs(cents)
    if round(far) < 100:
        return say_many("{n} cent", "{n} cents", round(far))
    semitones = number(far / 100.0, 1)
    return say("1 semitone") if round(far / 100.0, 1) == 1.0 else say("{} semitones").format(semitones)


def typeset(text: str) -> str:
    """A text for a page: no line ends between a figure and its unit or sign; percentages and minus are alike."""
    text = _BELOW_ZERO.sub(MINUS, text)
    return _BEFORE_UNIT.sub(NO_BREAK, _TIGHT_PERCENT.sub(f"{NO_BREAK}%", text))


def counted(n: int, noun: str) -> str:
    """`1 string`, `3 strings`, `no strings`; in English only."""
    return f"{n or 'no'} {noun}{'' if n == 1 else 's'}"


def listed(names: list[str], most_n: int) -> str:
    """`E♭2, A♭3 and F6`; past `most_n` names the rest are counted."""
    shown = names
    if len(names) > most_n:
        shown = [*names[: most_n - 1], say_many("{n} more", "{n} more", len(names) - most_n + 1)]
    joint = say("and")
    return f" {joint} ".join(filter(None, [", ".join(shown[:-1]), shown[-1]])) if shown else ""


def shorten(text: str, most_n: int) -> str:
    """The text on one line, cut with an ellipsis past `most_n` characters."""
    line = " ".join(text.split())
    return line if len(line) <= most_n else line[: most_n - 1].rstrip() + ELLIPSIS


def clock(seconds: float) -> str:
    """A length of time: `1 min 52 s`."""
    minutes, rest = divmod(round(seconds), 60)
    return f"{minutes} min {rest} s" if minutes else f"{rest} s"
