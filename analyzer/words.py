"""Every label, unit and fixed text that people read in charts and report, and how notes and numbers are
written.

Kept in one place so that it can be translated; sentences that depend on the survey are in `sentences`.
British plain English that a non-musician follows. Notes in prose are written `E♭2`, a minus is U+2212, and
a figure has no more digits than its interval allows (Particle Data Group, "Review of Particle Physics",
Introduction, Rounding: two digits of the uncertainty where they are 10 to 35, else one).
"""

import math
from dataclasses import dataclass

from analyzer.recording import RecordingInfo
from analyzer.survey import StringRow

MINUS, FLAT_SIGN, SHARP_SIGN, ELLIPSIS = "\u2212", "\u266d", "\u266f", "\u2026"


@dataclass(frozen=True, slots=True, kw_only=True)
class State:
    """How one state of a string is shown: always a shape and a word, colour only beside them."""

    shape: str
    word: str
    meaning: str
    tone: str
    """`good`, `bad` or `open`: which of three colours it gets."""


STATES: dict[str, State] = {
    "sound": State(shape="●", word="sound", meaning="rings as its neighbours do", tone="good"),
    "dull": State(shape="■", word="dull", meaning="dies away sooner than its neighbours", tone="bad"),
    "false": State(shape="◆", word="false", meaning="its partials disagree about its pitch", tone="bad"),
    "check by hand": State(shape="▲", word="check by hand", meaning="something is odd; listen and look", tone="bad"),
    "cannot judge": State(shape="○", word="cannot judge", meaning="heard, but too little to judge it by", tone="open"),
    "uncertain": State(shape="▽", word="uncertain", meaning="it may be another string", tone="open"),
    "not heard": State(shape="✕", word="not heard", meaning="missing, broken or skipped", tone="open"),
}


def state(row: StringRow) -> str:
    """The one word that says most about the string, a key of STATES."""
    return row.verdict if row.status == "heard" else row.status


def states(row: StringRow) -> tuple[str, ...]:
    """All there is to say of its state: an uncertain string has a verdict too."""
    return (row.status, row.verdict) if row.status == "uncertain" else (state(row),)


def note(name: str) -> str:
    """`Eb2` as people write it: `E♭2`."""
    return name[:1] + name[1:].replace("b", FLAT_SIGN).replace("#", SHARP_SIGN)


def number(value: float, decimals_n: int) -> str:
    """A number for people, rounded (below 0 decimals: to tens), with a real minus and no minus zero."""
    return f"{round(value, decimals_n):z.{max(decimals_n, 0)}f}".replace("-", MINUS)


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


def percent(probability: float) -> str:
    """`64 %`; never 100 % for what is not certain, nor 0 % for what is not impossible."""
    whole = round(100.0 * probability)
    if whole == 100 and probability < 1.0:
        return "> 99 %"
    return "< 1 %" if whole == 0 and probability > 0.0 else f"{whole} %"


def amount(cents: float) -> str:
    """How far, without its direction: `82 cents`, `4.2 semitones`."""
    far = abs(cents)
    if round(far) < 100:
        return counted(round(far), "cent")
    return "1 semitone" if number(far / 100.0, 1) == "1.0" else f"{number(far / 100.0, 1)} semitones"


def counted(n: int, noun: str) -> str:
    """`1 string`, `3 strings`, `no strings`."""
    return f"{n or 'no'} {noun}{'' if n == 1 else 's'}"


def listed(names: list[str], most_n: int) -> str:
    """`E♭2, A♭3 and F6`; past `most_n` names the rest are counted."""
    shown = names if len(names) <= most_n else [*names[: most_n - 1], f"{len(names) - most_n + 1} more"]
    return " and ".join(filter(None, [", ".join(shown[:-1]), shown[-1]])) if shown else ""


def shorten(text: str, most_n: int) -> str:
    """The text on one line, cut with an ellipsis past `most_n` characters."""
    line = " ".join(text.split())
    return line if len(line) <= most_n else line[: most_n - 1].rstrip() + ELLIPSIS


def clock(seconds: float) -> str:
    """A length of time: `1 min 52 s`."""
    minutes, rest = divmod(round(seconds), 60)
    return f"{minutes} min {rest} s" if minutes else f"{rest} s"


def recording_facts(recording: RecordingInfo) -> list[tuple[str, str]]:
    """What the check-up measured, name and figure."""
    channels = {1: MONO, 2: STEREO}.get(recording.channels, CHANNELS.format(recording.channels))
    values = (
        clock(recording.duration_s),
        f"{number(recording.source_rate_hz / 1000.0, 1)} kHz, {channels}, {recording.codec}",
        f"{number(recording.peak_db, 1)} dB",
        f"{number(recording.noise_floor_db, 0)} dB",
        f"{number(recording.bandwidth_hz / 1000.0, 1)} kHz",
        NO_HUM if recording.hum_hz is None else f"{number(recording.hum_hz, 0)} Hz",
        AUTOMATIC if recording.automatic_gain else STEADY,
    )
    return list(zip(RECORDING_FACTS, values, strict=True))


# Headings and labels, in the order of the report.
KIND = "Harp survey"
NO_TITLE = "A harp"
MEASURED_AGAINST = "Measured against"
ASSUMED = "assumed, because nobody said otherwise; if this is wrong, so are the figures below"
STATED = "as stated by the person who recorded it"
CONTENTS = "Contents"
SUMMARY = "In short"
HOW_FAR, MISSING, FIRST, SURE = "How far off", "What is missing", "What to do first", "How sure this is"
DOUBTS = "To be settled first"
DOUBTS_WHY = (
    "The recording can be read in another way too. Until this is settled, the figures may be those of"
    " another key or other strings, and no pin should be turned on their account."
)
REMARKS = "Noticed about the whole harp"
CAUTIONS = "Before a pin is turned"
CAUTION_TEXTS = (
    "This survey is made from sound alone. It has not seen the harp and says nothing about its neck,"
    " joints, soundboard or base.",
    "Have a qualified harp technician look at the harp before slack strings are brought up, above all if"
    " it stood slack for long. Where you see a crack, an opening joint, a twisted neck or a soundboard"
    " pulled up more than it was, raise nothing and ask first.",
    "A harp under tension carries a great load; on a concert harp it adds up to about one tonne-force"
    " (common practice, no source). Raise it in several small passes over days, all strings a little at a"
    " time, never one of them above its note.",
    "Follow a string by eye and finger from the soundboard to its own pin before you turn it: turning the"
    " wrong pin is a common cause of broken strings.",
    "Keep your face out of the plane of the strings, and hold both ends of a wire when you cut it.",
)
DEVIATION = "How far each string is off"
DECAY = "How long each string rings"
CHART_SCROLL = "Chart, scrolls sideways"
CENTS_AXIS = "cents from its note"
IN_TUNE = "in tune"
OFF_SCALE = "off the scale"
DECAY_AXIS = "decay time, s"
BRIGHT_AXIS = "brightness, dB"
EXPECTED = "this harp’s own curve"
SEMITONES_AWAY = ("{} semitone {}", "{} semitones {}")
FLAT, SHARP = "flat", "sharp"
TABLE = "All strings"
TABLE_CAPTION = (
    "Lowest string first. “Off by” is the distance from the note it is to be tuned to: minus is flat. ±"
    " is half of the 95 % interval. A string’s name leads to its details."
)
COLUMNS = {
    "string": "String",
    "note": "Tuned to",
    "cents": "Off by, cents",
    "cents_u95": "±",
    "state": "State",
    "pitch_hz": "Pitch, Hz",
    "match_confidence": "This string?",
    "decay_s": "Decay, s",
    "decay_u95_s": "±",
    "remarks": "Remarks",
}
TABLE_SCROLL = "Table, scrolls sideways"
KEY_TO_STATES = "The shapes"
CENTS = "cents"
AS_CSV = "These figures unrounded, as CSV"
SORTED_UP, SORTED_DOWN, SORTED_LAYOUT = "sorted upwards", "sorted downwards", "in the order of the harp"
DETAILS = "String by string"
DETAILS_HINT = "Open a string for its partials, its decay and what was noticed about it."
DETAIL = {
    "target": "To be tuned to",
    "pitch": "Measured pitch",
    "off": "Off by",
    "match": "Is this string",
    "when": "Plucked at",
    "decay": "Decay time",
    "expected": "Decay expected of it",
    "brightness": "Brightness",
    "dull": "Dull",
    "false": "False",
    "inharmonicity": "Inharmonicity B",
}
PARTIALS = "Its partials"
PARTIAL_COLUMNS = ("Partial", "Frequency, Hz", "Level, dB", "Decay, s")
DECAY_CURVE = "How its sound fades: level in dB over seconds"
DECAY_CURVE_DASHED = "dashed is what its neighbours lead one to expect"
PLUCKS = "Sounds that do not count"
PLUCKS_CAPTION = "In time order. A string plucked again counts by its last good pluck."
PLUCK_COLUMNS = ("At, s", "String", "Why it does not count", "Pitch, Hz", "Level, dB")
ALL_PLUCKS_CSV = "All sounds taken for plucks, as CSV"
NO_PLUCKS = "Every sound taken for a pluck counts."
RECORDING = "The recording’s check-up"
NO_FINDINGS = "Nothing was found that spoils the measurement."
SEVERITIES = {"serious": ("■", "serious"), "warning": ("▲", "warning"), "note": ("○", "note")}
SPOILS, REMEDY = "It spoils", "Better next time"
RECORDING_FACTS = ("Length", "Rate and channels", "Peak", "Noise floor", "Highest sound", "Mains hum", "Gain")
MONO, STEREO, CHANNELS = "mono", "stereo", "{} channels"
NO_HUM, AUTOMATIC, STEADY = "none found", "turned up and down by the recorder", "steady"
GLOSSARY = "Words used"
GLOSSARY_TERMS = (
    ("Semitone", "The step from one key of a piano to the next, black or white."),
    ("Cent", "A hundredth of a semitone. Most people notice about ten."),
    ("Flat, sharp", "Below its note, above its note. A slack string is flat."),
    ("±", "The true figure lies within this much of the one shown, 95 times in 100."),
    (
        "Partial",
        "One of the pure tones a string’s sound is made of; the first gives its pitch, the upper its colour.",
    ),
    ("Decay time", "How long the sound takes to fade by 60 dB, to a thousandth of its swing."),
    (
        "Dull",
        "Fading sooner, or with fewer upper partials, than the strings beside it; it may be worn, dirty or damped.",
    ),
    (
        "False",
        "Having no single clear pitch, so that it cannot be tuned well; it may be uneven, kinked or badly seated.",
    ),
)
METHOD = "How this was made"
METHOD_TEXTS = (
    "The pitch is the mean frequency of the string’s first partial, weighted by its energy, from 0.15 to"
    " 1.35 s after the pluck (from 0.05 s above 1.5 kHz). Where the first partial is too weak it is"
    " inferred from the higher ones through the law of stiff strings, and the interval is wider.",
    "Intervals are half-widths of 95 % (JCGM 100). Decay times are T20 of ISO 3382: from −5 to −25 dB of"
    " the Schroeder curve, times three, compensated for noise.",
    "Dull and false strings are found by comparison with the other strings of this same harp, not with a norm.",
)
METHOD_FACTS = {
    "title": "Instrument",
    "layout": "Layout",
    "basis": "Its lengths and gauges",
    "setting": "Measured against",
    "order": "Order of plucking",
    "clock": "Common to all intervals",
    "said": "What was said",
    "made": "Computed",
    "version": "Program",
    "libraries": "Libraries",
}
ORDERS = {"up": "lowest to highest", "down": "highest to lowest", "any": "no order"}
CLOCK = "± {} cents for the recorder’s clock"
SETTINGS = "Settings"
SETTING_COLUMNS = ("Stage", "Setting", "Value")
PROGRAM = "harp-string-survey"
NOT_KNOWN = "not known"
