"""An invented survey of an invented harp with one of everything, as the stages would hand it over.

34 strings in E-flat major, a harp left alone for years: the bass has sunk most, three strings are not
heard, one reads an octave low, one is uncertain, some are dull, false or unjudged. All figures come from
plain formulas of the string's place, so that the same call gives the same survey.
"""

import math

from analyzer.layout import Layout, LayoutString
from analyzer.recording import Finding, RecordingInfo
from analyzer.survey import Doubt, PartialRow, PluckRow, StringRow, Survey
from analyzer.tuning import Target, Tuning

STEPS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
FLATS = "BEA"
NOT_HEARD = ("E2", "A3", "F6")
OCTAVE_LOW = "G2"
UNCERTAIN = "D4"
DULL = ("B2", "C5", "D5")
FALSE = ("F4",)
BY_HAND = ("E5",)
UNJUDGED = ("G6", "A6")

NAMES = tuple(f"{letter}{octave}" for octave in range(2, 7) for letter in "CDEFGAB")[:34]


def _note(string: str) -> str:
    return string[0] + ("b" if string[0] in FLATS else "") + string[1]


def _target_hz(string: str) -> float:
    steps = STEPS[string[0]] - (string[0] in FLATS) + 12 * (int(string[1]) + 1)
    return 440.0 * 2.0 ** ((steps - 69) / 12)


def _cents(i: int) -> float:
    if NAMES[i] == OCTAVE_LOW:
        return -1193.62
    if i in (20, 27):
        return 2.31 if i == 20 else 11.87
    return -418.0 * math.exp(-i / 12) - 18.0 - 9.0 * math.sin(2.3 * i)


def _verdict(name: str) -> str:
    if name in DULL:
        return "dull"
    if name in FALSE:
        return "false"
    if name in BY_HAND:
        return "check by hand"
    return "cannot judge" if name in UNJUDGED + NOT_HEARD else "sound"


def _remarks(name: str) -> tuple[str, ...]:
    words = {
        "E2": ("No pluck belongs to it: missing, broken or skipped.",),
        OCTAVE_LOW: (
            "12 semitones low: slack, an octave low, or the wrong string fitted; check by hand before turning.",
        ),
        UNCERTAIN: ("This pluck may also be C4 (31%); the figures are for D4 (64%).",),
        "B2": (
            "Its 5 partials die away 2.2 times (1.6 to 3.0) as fast as the other strings lead one to expect; it rings"
            " 2.0 s where 4.4 s are usual here: dull (97%); replace when money allows.",
        ),
        "F4": (
            "Its partials lie 3.4 times as far off the law of a stiff string as is usual here: look for a kink, an"
            " uneven or worn place, a loose winding.",
        ),
        "E5": (
            "Its partials 1, 2 and 3 beat 1.1 to 3.2 times a second, each two tones 2.9 cents apart where 0.4 are usual"
            " here, the weaker 5 dB below the other: it may be a false string (61%).",
            "String D5 answering would sound the same: damp all other strings, pluck it again and listen.",
        ),
        "A6": ("Dullness cannot be judged: the next sound came too soon.",),
    }
    return words.get(name, ())


def _string(i: int) -> StringRow:
    name, target_hz = NAMES[i], _target_hz(NAMES[i])
    if name in NOT_HEARD:
        return StringRow(
            string=name,
            note=_note(name),
            target_hz=target_hz,
            status="not heard",
            onset_s=None,
            recording=None,
            pitch_hz=None,
            cents=None,
            cents_u95=None,
            match_confidence=None,
            decay_s=None,
            decay_u95_s=None,
            dull=None,
            dull_probability=None,
            false_probability=None,
            verdict="cannot judge",
            brightness_db=None,
            expected_decay_s=None,
            inharmonicity=None,
            partials=(),
            decay_curve_db=(),
            remarks=_remarks(name) or ("No pluck belongs to it: missing, broken or skipped.",),
        )
    cents, expected_s = _cents(i), 7.5 * math.exp(-i / 14)
    pitch_hz = target_hz * 2 ** (cents / 1200)
    judged = name not in UNJUDGED
    decay_s = expected_s * (0.45 if name in DULL else 1 + 0.12 * math.sin(1.7 * i))
    beats = any("beat" in remark for remark in _remarks(name))
    return StringRow(
        string=name,
        note=_note(name),
        target_hz=target_hz,
        status="uncertain" if name == UNCERTAIN else "heard",
        onset_s=1.2 + 3.1 * i,
        recording=0,
        pitch_hz=pitch_hz,
        cents=cents,
        cents_u95=0.6 + 0.04 * abs(math.sin(i)) + (4.0 if i < 4 else 0.0) + (11.0 if i > 31 else 0.0),
        match_confidence=0.64 if name == UNCERTAIN else 0.997,
        decay_s=decay_s if judged else None,
        decay_u95_s=0.06 * decay_s if judged else None,
        dull=name in DULL if judged else None,
        dull_probability=(0.93 if name in DULL else 0.04) if judged else None,
        false_probability=(0.88 if name in FALSE else 0.03) if judged else None,
        verdict=_verdict(name),
        brightness_db=-14.0 - 0.3 * i - (11.0 if name in DULL else 0.0) + math.sin(i) if judged else None,
        expected_decay_s=expected_s,
        inharmonicity=2.1e-4 if judged else None,
        beats_n=3 * beats if judged else None,
        loss_factor=2.2 / (3 * pitch_hz * decay_s / 3**0.5) if judged else None,
        loss_factor_u95=1.5e-4 if judged else None,
        partials=tuple(
            PartialRow(
                number=n,
                frequency_hz=pitch_hz * n * math.sqrt((1 + 2.1e-4 * n * n) / (1 + 2.1e-4)),
                level_db=-18.0 - 5.5 * n,
                t60_s=decay_s / n**0.5 if n < 6 else None,
                beat_hz=1.07 * n if beats and n < 4 else None,
                beat_u95_hz=0.02 if beats and n < 4 else None,
                beat_db=-5.0 if beats and n < 4 else None,
            )
            for n in range(1, 8)
            if pitch_hz * n < 10000
        ),
        decay_curve_db=tuple(max(-60.0 * 0.05 * k / decay_s, -48.0) for k in range(60)),
        remarks=_remarks(name),
    )


def _pluck(onset_s: float, string: str | None, reason: str, **more: object) -> PluckRow:
    values = {
        "onset_s": onset_s,
        "end_s": onset_s + 2.4,
        "recording": 0,
        "string": string,
        "confidence": 0.98,
        "also_possible": (),
        "counted": not reason,
        "reason": reason,
        "pitch_hz": None,
        "level_db": -21.4,
    }
    return PluckRow(**{**values, **more})


def _plucks(strings: tuple[StringRow, ...]) -> tuple[PluckRow, ...]:
    counted = [
        _pluck(
            row.onset_s,
            row.string,
            "",
            pitch_hz=row.pitch_hz,
            confidence=row.match_confidence,
            also_possible=(("C4", 0.31), ("E4", 0.05)) if row.string == UNCERTAIN else (),
        )
        for row in strings
        if row.onset_s is not None
    ]
    rest = [
        _pluck(0.35, None, "not a string", level_db=-12.06),
        _pluck(2.9, "C2", "repeated", pitch_hz=50.1),
        _pluck(40.2, "A4", "slip", pitch_hz=370.02),
        _pluck(99.7, None, "too short"),
    ]
    return tuple(sorted(counted + rest, key=lambda pluck: pluck.onset_s))


FINDINGS = (
    Finding(
        code="bandwidth",
        severity="note",
        what="Nothing above 7.8 kHz is in the recording.",
        spoils="The judgement of dull strings from the middle upwards, and the top strings' partials.",
        remedy="Record with a music or voice-memo app at 44.1 or 48 kHz in its best quality (not a phone call or a"
        " messenger's voice message) and send the file itself.",
    ),
    Finding(
        code="automatic gain",
        severity="serious",
        what="The recorder seems to turn its level up by itself as a string fades (its hiss swells by 11 dB within a"
        " typical pluck).",
        spoils="The decay times come out too long; comparisons between strings still hold roughly, pitch is sound.",
        remedy="Switch off automatic level, voice enhancement and noise reduction in the recording app.",
    ),
    Finding(
        code="hum",
        severity="warning",
        what="Mains hum at 50 Hz and its multiples (-31 dB).",
        spoils="The decay of bass strings, and their pitch where a string lies close to the hum.",
        remedy="Unplug the recorder's charger, keep away from lamps, dimmers and amplifiers, or record on battery.",
    ),
)


def example_survey() -> Survey:
    """The survey; tests change single fields with dataclasses.replace."""
    strings = tuple(_string(i) for i in range(len(NAMES)))
    return Survey(
        schema=1,
        program_version="0.1.0",
        title="The harp from the attic",
        date="2026-03-01",
        made_at="2026-03-02T09:30:00Z",
        recordings=(
            RecordingInfo(
                name="attic.m4a",
                sha256="c0ffee" * 10 + "abcd",
                duration_s=112.4,
                source_rate_hz=48000,
                channels=1,
                codec="aac",
                peak_db=-3.2,
                noise_floor_db=-61.5,
                bandwidth_hz=7800.0,
                hum_hz=50.0,
                automatic_gain=True,
                findings=FINDINGS,
            ),
        ),
        layout=Layout(
            name="lever-34-C2-A6",
            title="34-string lever harp, C2 to A6",
            kind="lever",
            basis="generic estimate",
            source="a scaling curve and the published mean tension",
            strings=tuple(
                LayoutString(
                    string=name,
                    material="wire" if i < 7 else "nylon",
                    colour={"C": "red", "F": "black"}.get(name[0], "plain"),
                )
                for i, name in enumerate(NAMES)
            ),
        ),
        tuning=Tuning(
            key="E-flat",
            a4_hz=440.0,
            setting="levers off, E-flat major, A4 = 440 Hz",
            settled_by="default",
            targets=tuple(Target(string=n, note=_note(n), target_hz=_target_hz(n)) for n in NAMES),
        ),
        said={"layout": "lever-34", "tuning": "E-flat"},
        order="up",
        order_confidence=0.99,
        strings=strings,
        plucks=_plucks(strings),
        doubts=(
            Doubt(
                code="semitone",
                sentence="Every string lies about a semitone below its target, very evenly (within 9 cents). That may"
                " be slackness, or the harp is set to another key than levers off, E-flat major, A4 = 440 Hz. Look at"
                " the levers or pedals and give --tuning and --levers or --pedals as they are.",
            ),
        ),
        remarks=("E2 was said to be missing, but a pluck is best explained by it.",),
        a4_that_fits_hz=431.2,
        clock_u95_cents=0.35,
        settings={"recording": {"rate_hz": 22050}},
        libraries={"numpy": "2.1.0", "scipy": "1.14.0"},
    )
