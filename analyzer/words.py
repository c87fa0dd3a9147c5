"""Every label, unit and fixed text that people read in charts and report, in one place so that it can be
translated; sentences that depend on the survey are in `sentences`, and how notes and numbers are written in
`spelling`.

British plain English that a non-musician follows, noted for translation by `mark` and looked up where it is
shown (`speech.say`, or `speech.Spoken` for the whole module).
"""

from dataclasses import dataclass

from analyzer.recording import RecordingInfo
from analyzer.speech import mark, say
from analyzer.spelling import amount as amount
from analyzer.spelling import clock as clock
from analyzer.spelling import counted as counted
from analyzer.spelling import decimals as decimals
from analyzer.spelling import hertz as hertz
from analyzer.spelling import is_timed as is_timed
from analyzer.spelling import listed as listed
from analyzer.spelling import localised as localised
from analyzer.spelling import measured as measured
from analyzer.spelling import note as note
from analyzer.spelling import number as number
from analyzer.spelling import partial_cells as partial_cells
from analyzer.spelling import percent as percent
from analyzer.spelling import share as share
from analyzer.spelling import shorten as shorten
from analyzer.spelling import two_digits as two_digits
from analyzer.survey import StringRow


@dataclass(frozen=True, slots=True, kw_only=True)
class State:
    """How one state of a string is shown: always a shape and a word, colour only beside them."""

    shape: str
    word: str
    meaning: str
    tone: str
    """`good`, `bad` or `open`: which of three colours it gets."""


STATES: dict[str, State] = {
    "sound": State(shape="●", word=mark("sound"), meaning=mark("rings as its neighbours do"), tone="good"),
    "dull": State(shape="■", word=mark("dull"), meaning=mark("dies away sooner than its neighbours"), tone="bad"),
    "false": State(shape="◆", word=mark("false"), meaning=mark("its partials disagree about its pitch"), tone="bad"),
    "check by hand": State(
        shape="▲", word=mark("check by hand"), meaning=mark("something is odd; listen and look"), tone="bad"
    ),
    "cannot judge": State(
        shape="○",
        word=mark("cannot judge"),
        meaning=mark("too little was heard to judge it by"),
        tone="open",
    ),
    "uncertain": State(shape="▽", word=mark("uncertain"), meaning=mark("it may be another string"), tone="open"),
    "not heard": State(shape="✕", word=mark("not heard"), meaning=mark("missing, broken or skipped"), tone="open"),
}


def state(row: StringRow) -> str:
    """The one word that says most about the string, a key of STATES."""
    return row.verdict if row.status == "heard" else row.status


def states(row: StringRow) -> tuple[str, ...]:
    """All there is to say of its state: an uncertain string has a verdict too."""
    return (row.status, row.verdict) if row.status == "uncertain" else (state(row),)


def beats(row: StringRow) -> str:
    """How fast its lowest partial beats that does."""
    lowest = next((p for p in row.partials if p.beat_hz is not None), None)
    if lowest is None:
        return say(NO_BEATS if row.beats_n == 0 else NOT_KNOWN)
    return " ".join((*measured(lowest.beat_hz, lowest.beat_u95_hz), "Hz"))


def loss(row: StringRow) -> str:
    """How much of its energy it loses, by the law through its partials, with its interval."""
    if row.loss_factor is None or row.loss_factor_u95 is None:
        return say(NOT_KNOWN)
    decimals_n = decimals(row.loss_factor_u95, 5)
    return f"{number(row.loss_factor, decimals_n)} ± {number(row.loss_factor_u95, decimals_n)}"


def recording_facts(recording: RecordingInfo) -> list[tuple[str, str]]:
    """What the check-up measured, name and figure."""
    channels = {1: MONO, 2: STEREO}.get(recording.channels, CHANNELS)
    values = (
        clock(recording.duration_s),
        f"{number(recording.source_rate_hz / 1000.0, 1)} kHz, {say(channels).format(recording.channels)},"
        f" {recording.codec}",
        f"{number(recording.peak_db, 1)} dB",
        f"{number(recording.noise_floor_db, 0)} dB",
        f"{number(recording.bandwidth_hz / 1000.0, 1)} kHz",
        say(NO_HUM) if recording.hum_hz is None else f"{number(recording.hum_hz, 0)} Hz",
        say(AUTOMATIC if recording.automatic_gain else STEADY),
    )
    return list(zip(map(say, RECORDING_FACTS), values, strict=True))


# Headings and labels, in the order of the report.
KIND = mark("Harp survey")
NO_TITLE = mark("A harp")
MEASURED_AGAINST = mark("Measured against")
ASSUMED = mark("assumed, because nobody said otherwise; if this is wrong, so are the figures below")
STATED = mark("as stated by the person who recorded it")
SUMMARY = mark("In short")
HOW_FAR, MISSING, FIRST, SURE = (
    mark("How far off"),
    mark("What is missing"),
    mark("What to do first"),
    mark("How sure this is"),
)
DOUBTS = mark("To be settled first")
DOUBTS_WHY = mark(
    "The recording can be read in another way too. Until this is settled, the figures may be those of"
    " another key or other strings, and no pin should be turned on their account."
)
REMARKS = mark("Noticed about the whole harp")
CAUTIONS = mark("Before a pin is turned")
CAUTION_TEXTS = (
    mark(
        "This survey is made from sound alone. It has not seen the harp and says nothing about its neck,"
        " joints, soundboard or base."
    ),
    mark(
        "Have a qualified harp technician look at the harp before slack strings are brought up, above all if"
        " it stood slack for long. Where you see a crack, an opening joint, a twisted neck or a soundboard"
        " pulled up more than it was, raise nothing and ask first."
    ),
    mark(
        "A harp under tension carries a great load; on a concert harp it adds up to about one tonne-force"
        " (common practice, no source). Raise it in several small passes over days, all strings a little at a"
        " time, never one of them above its note."
    ),
    mark(
        "Follow a string by eye and finger from the soundboard to its own pin before you turn it: turning the"
        " wrong pin is a common cause of broken strings."
    ),
    mark("Keep your face out of the plane of the strings, and hold both ends of a wire when you cut it."),
)
DEVIATION = mark("How far each string is off")
DECAY = mark("How long each string rings")
CHART_SCROLL = mark("Chart, scrolls sideways")
CENTS_AXIS = mark("cents from its note")
IN_TUNE = mark("in tune")
OFF_SCALE = mark("off the scale")
DECAY_AXIS = mark("decay time, s")
BRIGHT_AXIS = mark("brightness, dB")
EXPECTED = mark("this harp’s own curve")
SEMITONES_AWAY = (mark("{} semitone {}"), mark("{} semitones {}"))
FLAT, SHARP = mark("flat"), mark("sharp")
TABLE = mark("All strings")
TABLE_CAPTION = mark(
    "Lowest string first. “Off by” is the distance from the note it is to be tuned to: minus is flat. ±"
    " is half of the 95 % interval. A string’s name leads to its details."
)
TABLE_CAPTION_PAPER = mark(
    "Lowest string first. “Off by” is the distance from the note it is to be tuned to: minus is flat. ±"
    " is half of the 95 % interval."
)
COLUMNS = {
    "string": mark("String"),
    "note": mark("Tuned to"),
    "cents": mark("Off by, cents"),
    "cents_u95": "±",
    "state": mark("State"),
    "pitch_hz": mark("Pitch, Hz"),
    "match_confidence": mark("This string?"),
    "decay_s": mark("Decay, s"),
    "decay_u95_s": "±",
    "remarks": mark("Remarks"),
}
TABLE_SCROLL = mark("Table, scrolls sideways")
KEY_TO_STATES = mark("The shapes")
CENTS = mark("cents")
AS_CSV = mark("These figures unrounded, as CSV")
FILTER = mark("Choose rows")
SHOW = mark("Show")
SHOW_ALL = mark("all strings")
MORE_THAN = mark("more than")
CENTS_OFF = mark("cents off")
SHOWN = mark("{} of {} strings shown")
COPY = mark("Copy the rows shown as CSV")
COPIED = mark("{} rows copied as CSV")
NOT_COPIED = mark("The browser does not let the page copy; the text is selected below, copy it from there.")
SORTED_UP, SORTED_DOWN, SORTED_LAYOUT = (
    mark("sorted upwards"),
    mark("sorted downwards"),
    mark("in the order of the harp"),
)
DETAILS = mark("String by string")
DETAILS_HINT = mark("Open a string for its partials, its decay and what was noticed about it.")
DETAIL = {
    "target": mark("To be tuned to"),
    "pitch": mark("Measured pitch"),
    "off": mark("Off by"),
    "match": mark("Is this string"),
    "when": mark("Plucked at"),
    "decay": mark("Decay time"),
    "expected": mark("Decay expected of it"),
    "brightness": mark("Brightness"),
    "dull": mark("Dull"),
    "false": mark("False"),
    "beats": mark("Beats"),
    "loss": mark("Loss factor, partial 3"),
    "inharmonicity": mark("Inharmonicity B"),
}
NO_BEATS = mark("none heard")
LISTEN = mark("Listen")
CLIP = mark("The recorded pluck of {}, levelled like the others")
NO_CLIPS = mark("The recorded plucks are not in this file.")
TONE = mark("Its note, {} Hz")
IN_TURN = mark("The two in turn")
NEIGHBOUR = mark("A good neighbour: {}")
STOP = mark("Stop")
SPECTRUM = mark("What its sound is made of: level in dB over frequency")
SPECTRUM_ALT = mark("{n} partials from {low} to {high} Hz; the strongest is number {strongest}.")
FADE_ALT = mark("After {length} s the sound has fallen by {fallen} dB.")
SPECTRUM_MARKS = mark("the ticks are its partials")
PARTIALS = mark("Its partials")
PARTIAL_COLUMNS = (mark("Partial"), mark("Frequency, Hz"), mark("Level, dB"), mark("Decay, s"))
DECAY_CURVE = mark("How its sound fades: level in dB over seconds")
DECAY_CURVE_DASHED = mark("dashed is what its neighbours lead one to expect")
PLUCKS = mark("Sounds that do not count")
PLUCKS_CAPTION = mark("In time order. A string plucked again counts by its last good pluck.")
PLUCK_COLUMNS = (
    mark("At, s"),
    mark("String"),
    mark("Why it does not count"),
    mark("Pitch, Hz"),
    mark("Level, dB"),
)
ALL_PLUCKS_CSV = mark("All sounds taken for plucks, as CSV")
NO_PLUCKS = mark("Every sound taken for a pluck counts.")
BY_EYE = mark("To check by eye")
BY_EYE_TEXT = mark(
    "What no recording shows. This is a list of places to look at, no verdict: common practice, no source."
)
NEXT = mark("The plan and what to buy")
NO_PLAN = mark("No plan yet: before a pin is turned, this has to be answered")
NO_PLAN_WHY = mark(
    "A recording cannot see the harp. Until somebody has answered these, strings are not to be raised, and this page"
    " names no turn of a pin."
)
NEXT_TEXT = mark(
    "Once they are answered, the command harp-survey plan makes a work order from this survey: every turn of a pin in"
    " passes, the load, what to buy and when to come again. harp-survey report then makes this page again with its"
    " passes."
)
PLAN_MADE = mark(
    "This plan rests on answers that were kept with the survey. The work order that goes with it has boxes to tick."
)
PLAN_LATER = mark("The passes after that")
BUY_IF_DOUBTED = mark("Nothing is named to buy until it is settled which string is which.")
BUY_AFTER_LOOK = mark(
    "Not heard, and nobody has said whether they are there: {names}. Look first; none is counted here."
)
RECORDING = mark("The recording’s check-up")
NO_FINDINGS = mark("Nothing was found that spoils the measurement.")
SEVERITIES = {
    "serious": ("■", mark("serious")),
    "warning": ("▲", mark("warning")),
    "note": ("○", mark("note")),
}
SPOILS, REMEDY = mark("It spoils"), mark("Better next time")
RECORDING_FACTS = (
    mark("Length"),
    mark("Rate and channels"),
    mark("Peak"),
    mark("Noise floor"),
    mark("Highest sound"),
    mark("Mains hum"),
    mark("Gain"),
)
MONO, STEREO, CHANNELS = mark("mono"), mark("stereo"), mark("{} channels")
NO_HUM, AUTOMATIC, STEADY = mark("none found"), mark("turned up and down by the recorder"), mark("steady")
GLOSSARY = mark("Words used")
GLOSSARY_TERMS = (
    (mark("Semitone"), mark("The step from one key of a piano to the next, black or white.")),
    (mark("Cent"), mark("A hundredth of a semitone. Most people notice about ten.")),
    (mark("Flat, sharp"), mark("Below its note, above its note. A slack string is flat.")),
    ("±", mark("The true figure lies within this much of the one shown, 95 times in 100.")),
    (
        mark("Partial"),
        mark("One of the pure tones a string’s sound is made of; the first gives its pitch, the upper its colour."),
    ),
    (mark("Decay time"), mark("How long the sound takes to fade by 60 dB, to a thousandth of its swing.")),
    (
        mark("Dull"),
        mark(
            "Fading sooner, or with fewer upper partials, than the strings beside it; it may be worn, dirty or damped."
        ),
    ),
    (
        mark("False"),
        mark(
            "Having no single clear pitch, so that it cannot be tuned well; it may be uneven, kinked or badly seated."
        ),
    ),
)
METHOD = mark("How this was made")
METHOD_TEXTS = (
    mark(
        "The pitch is the mean frequency of the string’s first partial, weighted by its energy, from 0.15 to"
        " 1.35 s after the pluck (from 0.05 s above 1.5 kHz). Where the first partial is too weak it is"
        " inferred from the higher ones through the law of stiff strings, and the interval is wider."
    ),
    mark(
        "Intervals are half-widths of 95 % (JCGM 100). Decay times are T20 of ISO 3382: from −5 to −25 dB of"
        " the Schroeder curve, times three, compensated for noise."
    ),
    mark(
        "Dull and false strings are found by comparison with the other strings of this same harp, not with a norm."
        " Before listening, one string in five is taken to be dull."
    ),
)
HARP_OCTAVES = mark(
    "Octaves are counted from the top, as harpists do: 5C is C3. The column “String” has the scientific names, in"
    " which C4 is middle C."
)
FITS_A4 = mark("The whole harp would fit best")
PAGE_OF = mark("Page {} of {}")
SIGNED = mark("Signed")
SIGN_TEXT = mark("This survey was handed over and gone through on the day below.")
SIGN_LINES = (
    mark("For the survey: name, signature"),
    mark("For the harp: name, signature"),
    mark("Place, day"),
)
CSV_BESIDE = mark(
    "The figures unrounded, and all sounds taken for plucks, are in the files strings.csv and plucks.csv that were"
    " written with this paper, and in the report as a page."
)
METHOD_FACTS = {
    "title": mark("Instrument"),
    "layout": mark("Layout"),
    "basis": mark("Its lengths and gauges"),
    "setting": mark("Measured against"),
    "order": mark("Order of plucking"),
    "clock": mark("Common to all intervals"),
    "said": mark("What was said"),
    "made": mark("Computed"),
    "version": mark("Program"),
    "libraries": mark("Libraries"),
}
ORDERS = {"up": mark("lowest to highest"), "down": mark("highest to lowest"), "any": mark("no order")}
CLOCK = mark("± {} cents for the recorder’s clock")
SETTINGS = mark("Settings")
SETTINGS_BESIDE = mark("Every setting of the analysis stands in report.html and in survey.json.")
SETTING_COLUMNS = (mark("Stage"), mark("Setting"), mark("Value"))
PROGRAM = "harp-string-survey"
NOT_KNOWN = mark("not known")
SAID_MISSING = "Said to be missing."
"""The remark on a string that was said not to be on the harp (`remarks`)."""
