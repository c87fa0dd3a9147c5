"""One survey: everything the program found out about one harp on one day, as values, and its file `survey.json`.

The tables, figures, report, plan and comparisons are all rendered from this one value, so that they cannot disagree.
Nothing is computed here. The file is versioned (`SCHEMA`); reading checks types and says where a file is off.

Conventions: frequencies in Hz, times in seconds from the start of the recording, deviations in cents against the
string's target (1200·log2(f/f_target)), levels in dB below full scale (so mostly negative), intervals as half-widths
of the 95 % interval (JCGM 100). What could not be measured is None, and a remark says why.
"""

from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import msgspec

from analyzer.errors import UnusableInput
from analyzer.json_files import check_schema, decode_json, read_bounded
from analyzer.layout import Layout
from analyzer.recording import RecordingInfo
from analyzer.tuning import Tuning

SCHEMA = 1
_MOST = 1e15
"""No number in a survey is larger, only one in a file that was tampered with …"""
_TINIEST = 1e-300
"""… and none that is not 0 smaller."""
_LEAST = 1e-6
"""No frequency in Hz, no time in s and no size of a string is less."""

Status = Literal["heard", "not heard", "uncertain"]
Verdict = Literal["sound", "dull", "false", "check by hand", "cannot judge"]


@dataclass(frozen=True, slots=True, kw_only=True)
class PartialRow:
    """One measured partial of a string, for the detail view."""

    number: int
    """Partial number n, from 1."""
    frequency_hz: float
    level_db: float
    """Level at the settled onset, dB below full scale."""
    t60_s: float | None
    """Decay time of this partial alone, seconds for 60 dB; None where it could not be fitted."""
    late_t60_s: float | None = None
    """The same of its after-sound, where that falls clearly more slowly; None elsewhere and in older surveys."""
    beat_hz: float | None = None
    """How many times a second it beats; None where no beat shows, and in surveys made before this was kept."""
    beat_u95_hz: float | None = None
    beat_db: float | None = None
    """Level of the weaker of its two tones against the stronger at the settled onset, dB."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StringRow:
    """What is known of one string of the layout."""

    string: str
    """Letter and octave in scientific pitch notation, without accidental: `C4`."""
    note: str
    """The note it is to be tuned to: `Eb4`."""
    target_hz: float
    status: Status
    onset_s: float | None
    """Start of the pluck that counts, from the start of its recording."""
    recording: int | None
    """Index into `Survey.recordings` of the recording that pluck is in."""
    pitch_hz: float | None
    cents: float | None
    cents_u95: float | None
    match_confidence: float | None
    """Probability, 0 to 1, that this pluck is this string."""
    decay_s: float | None
    decay_u95_s: float | None
    dull: bool | None
    dull_probability: float | None
    false_probability: float | None
    verdict: Verdict
    brightness_db: float | None
    """Level of the upper partials against the first ones, dB, for the chart; None where not measured."""
    expected_decay_s: float | None
    """This harp's own decay curve at this string, seconds: what its neighbours lead one to expect."""
    inharmonicity: float | None
    """B of f_n = n·f_1·√((1+B·n²)/(1+B)); None where fewer than three partials were measured."""
    partials: tuple[PartialRow, ...]
    decay_curve_db: tuple[float, ...]
    """Level of the string's sound against its onset, one value each 50 ms, dB; empty where not heard."""
    remarks: tuple[str, ...]
    """Short plain-English sentences."""
    beats_n: int | None = None
    """How many of its partials beat, also of those that have no row above. None where none could be followed long
    enough for a beat to show, and in surveys made before this was kept."""
    loss_factor: float | None = None
    """Of its third partial, by the law through the decays of all (`loss`): the string's own, whichever partials the
    player brought out. None where fewer than four were measured, and in surveys made before this was kept."""
    loss_factor_u95: float | None = None
    faint_s: float | None = None
    """Where a string that was not heard may have been plucked too softly; None elsewhere and in older surveys."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PluckRow:
    """One sound taken for a pluck."""

    onset_s: float
    end_s: float
    """Where it stops being usable."""
    recording: int
    string: str | None
    """The string it was given to; None for speech, a knock, …"""
    confidence: float
    """Probability, 0 to 1, of `string` (or of "not a string")."""
    also_possible: tuple[tuple[str, float], ...]
    """Other strings that it may be with a probability of 0.05 or more, likeliest first."""
    counted: bool
    """True for the pluck that its string's row is based on."""
    reason: str
    """Why it does not count: `repeated`, `slip`, `not a string`, `too short`, …; empty when it counts."""
    pitch_hz: float | None
    level_db: float
    posterior: tuple[tuple[str, float], ...] = ()
    """Every string it may be with its probability, down to one in a thousand, likeliest first; the rest is "none"."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LookRow:
    """Something to check by eye: no verdict."""

    strings: tuple[str, ...]
    """Lowest first."""
    what: str
    """What to look for, and why there; common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubt:
    """A reading of the whole harp that is as likely, or likelier, than "slack": until settled, no plan."""

    code: str
    """Short stable name: `another key`, `levers or pedals`, `semitone`, …"""
    sentence: str
    """What else it may be, and what the person can say or do to settle it."""
    strings: tuple[str, ...] = ()
    """Of which strings; empty where it is of the whole harp."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Survey:
    """One harp on one day."""

    schema: int
    program_version: str
    title: str
    """What the person calls the instrument; may be empty."""
    date: str
    """ISO 8601 day of the recording as the person gave it; may be empty."""
    made_at: str
    """ISO 8601 time the survey was computed (honours SOURCE_DATE_EPOCH)."""
    recordings: tuple[RecordingInfo, ...]
    layout: Layout
    tuning: Tuning
    said: dict[str, str]
    """What the person said on the command line that bears on the reading (option -> words), kept for a rerun."""
    order: Literal["up", "down", "any"]
    """Direction of plucking that the reading found (or was told)."""
    order_confidence: float
    strings: tuple[StringRow, ...]
    """One for every string of the layout, lowest first."""
    plucks: tuple[PluckRow, ...]
    """In time order."""
    doubts: tuple[Doubt, ...]
    remarks: tuple[str, ...]
    """About the harp as a whole, plain sentences (contradictions with what was said among them)."""
    a4_that_fits_hz: float | None
    """The A4 at which the whole harp reads zero in the median; shown, never applied."""
    clock_u95_cents: float
    """Part of every cents interval that is common to the whole recording (the recorder's clock)."""
    settings: dict[str, dict[str, float | int | str | bool]]
    """Section -> name -> value, for the report's method section."""
    libraries: dict[str, str]
    """Library -> version."""
    by_eye: tuple[LookRow, ...] = ()
    """What no recording shows, to look at; empty in surveys made before there was such a list."""


def to_json(survey: Survey) -> bytes:
    """The survey as UTF-8 JSON, indented, with a final newline: same survey, same bytes."""
    return msgspec.json.format(msgspec.json.encode(survey, enc_hook=_plain), indent=1) + b"\n"


def _plain(value: object) -> object:
    """A NumPy scalar as the Python number it is."""
    if callable(item := getattr(value, "item", None)):
        return item()
    raise TypeError(f"{type(value).__name__} has no place in a survey")


def read_survey(path: Path) -> Survey:
    """Read `survey.json`, given itself or the folder it is in.

    Raises UnusableInput, naming the file and the place in it, when it is missing, not a survey, or of a later schema.
    """
    file = path
    try:
        file = path / "survey.json" if path.is_dir() else path
        data = read_bounded(file)
    except OSError as e:
        raise UnusableInput(f"{file}: cannot be read ({e.strerror}); give the folder that analyze wrote.") from e
    try:
        head = decode_json(data, dict)
        check_schema(head, SCHEMA, file)
        survey = msgspec.convert(head, Survey)
    except msgspec.MsgspecError as e:
        raise UnusableInput(
            f"{file}: not a survey this program can read ({e}); give the folder that analyze wrote."
        ) from e
    problem = "it has a number that nothing measures" if _absurd(head) else _contradiction(survey)
    if problem:
        raise UnusableInput(f"{file}: {problem}; it was changed since analyze wrote it: analyze the recording again.")
    return survey


def _contradiction(survey: Survey) -> str:
    """What in a survey cannot be, of what its readers rely on; empty where nothing is."""
    names = [s.string for s in survey.layout.strings]
    if names != [row.string for row in survey.strings] or names != [t.string for t in survey.tuning.targets]:
        return "its strings are not those of its layout and tuning"
    if len(set(names)) < len(names) or not names or not survey.recordings:
        return "its strings or recordings are not complete"
    used = {row.recording for row in survey.strings} | {row.recording for row in survey.plucks}
    if any(k is not None and not 0 <= k < len(survey.recordings) for k in used):
        return "it names a recording that it does not list"
    targets_hz = [survey.tuning.a4_hz, *(t.target_hz for t in survey.tuning.targets)]
    measured = [
        hz for row in survey.strings for hz in (row.target_hz, row.pitch_hz, *(p.frequency_hz for p in row.partials))
    ]
    sizes = [
        size for s in survey.layout.strings for size in (s.length_mm, s.diameter_mm, s.mass_g_per_m, s.core_diameter_mm)
    ]
    times_s = [t_s for row in survey.strings for t_s in (row.decay_s, row.expected_decay_s)]
    if any(value is not None and value < _LEAST for value in (*targets_hz, *measured, *sizes, *times_s)):
        return "it has a frequency, a time or a size that no string has"
    return ""


def _absurd(value: object) -> bool:
    """Whether a number that is not of this world stands anywhere in a JSON value, however deep."""
    left = [value]
    while left:
        one = left.pop()
        if isinstance(one, dict):
            left.extend(one.values())
        elif isinstance(one, list):
            left.extend(one)
        elif isinstance(one, int | float) and (abs(one) > _MOST or 0 < abs(one) < _TINIEST):
            return True
    return False
