"""Check-up: what the meters read -> findings, in words for somebody who records for the first time.

Task: say what is wrong with a recording, what it spoils and how to record better, and say nothing of a good
one. `findings_without_plucks` judges what needs no pluck; `review_with_plucks` adds what only shows once
they are known.

Automatic gain: within each pluck the hiss is compared between the moment after the attack and the moment
before the next pluck. A fixed gain leaves it where it was (within 0.5 dB in recordings known to have one);
a recorder that turns itself down for the loud attack and up again lifts it by several dB in almost every
pluck. Where there is no hiss to go by, or too few plucks with a pause after them, nothing is claimed. A recorder that
turns down what fades is found by `gate`.
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from analyzer.meters import Levels, Measured
from analyzer.recording import Finding, RecordingInfo
from analyzer.settings import RecordingSettings

LEVEL_OFF = "Switch off automatic level, voice enhancement and noise reduction in the recording app."
CLOSER = "Put the phone about 40 cm from the middle of the soundboard"


def clock(seconds: float) -> str:
    """A time in a recording as people read it: `1:05.3`."""
    tenths = round(seconds * 10)
    return f"{tenths // 600}:{tenths % 600 // 10:02d}.{tenths % 10}"


def _places(times_s: Sequence[float], most: int) -> str:
    words = ", ".join(clock(t) for t in times_s[:most])
    return f"{words} and {len(times_s) - most} more" if len(times_s) > most else words


def findings_without_plucks(
    measured: Measured, duration_s: float, lost: str, settings: RecordingSettings
) -> tuple[Finding, ...]:
    """Findings that need no pluck, gravest first; `lost` says why a part could not be read (or is empty)."""
    found = (
        _lost(duration_s, lost),
        _mended(measured),
        _clipping(measured, settings),
        _gaps(measured, settings),
        _quiet(measured, settings),
        _noise(measured, settings),
        _hum(measured, settings),
        _bandwidth(measured, settings),
    )
    return _sorted(tuple(f for f in found if f is not None))


def _sorted(findings: tuple[Finding, ...]) -> tuple[Finding, ...]:
    rank = {"serious": 0, "warning": 1, "note": 2}
    return tuple(sorted(findings, key=lambda f: rank[f.severity]))


def _lost(duration_s: float, lost: str) -> Finding | None:
    if not lost:
        return None
    return Finding(
        code="cut off",
        severity="serious",
        what=f"Part of the file could not be read: {lost}. {clock(duration_s)} of it was used.",
        spoils="Strings plucked in the lost part are missing here, though they may be on the harp.",
        remedy="Send the recording again as a file (not through a messenger that re-packs it), or record again.",
    )


def _mended(measured: Measured) -> Finding | None:
    if not measured.mended_n:
        return None
    return Finding(
        code="damaged samples",
        severity="warning",
        what=f"{measured.mended_n} samples of the file are not numbers; they were read as silence.",
        spoils="Plucks at those places may be misjudged.",
        remedy="Export the recording again as 16- or 24-bit WAV or FLAC.",
    )


def _clipping(measured: Measured, settings: RecordingSettings) -> Finding | None:
    places = measured.clipped_at_s
    if not places:
        return None
    cut_db = measured.clipped_db
    level = "at full scale" if cut_db == 0.0 else f"cut off {-cut_db:.1f} dB below full scale, and turned down since"
    return Finding(
        code="clipping",
        severity="warning" if len(places) >= settings.clip_warning_places else "note",
        what=f"The sound was too loud for the recorder in {len(places)} place{'s' * (len(places) > 1)}"
        f" ({measured.clipped_n} samples {level}, at {_places(places, settings.places_shown)}).",
        spoils="How bright or dull those strings are, whether they buzz, and the start of their decay; pitch hardly"
        " suffers.",
        remedy="Turn the recording level down, move the phone a little away, or pluck those strings more gently.",
    )


def _gaps(measured: Measured, settings: RecordingSettings) -> Finding | None:
    gaps = measured.gaps_s
    if not gaps:
        return None
    total_s = sum(end - start for start, end in gaps)
    where = _places([start for start, _ in gaps], settings.places_shown)
    return Finding(
        code="gap",
        severity="warning",
        what=f"The sound breaks off {len(gaps)} time{'s' * (len(gaps) > 1)}"
        f" ({total_s:.2f} s of dead silence in all, at {where}).",
        spoils="The decay of the strings that were sounding, and plucks that fell into a gap.",
        remedy="Close other apps, switch off noise reduction and silence removal, and send the original file.",
    )


def _quiet(measured: Measured, settings: RecordingSettings) -> Finding | None:
    if measured.peak_db >= settings.quiet_peak_db:
        return None
    return Finding(
        code="quiet",
        severity="warning",
        what=f"The recording is very quiet: its loudest moment is {-measured.peak_db:.0f} dB below full scale.",
        spoils="The decay and the upper partials, which sink into the noise first.",
        remedy=f"{CLOSER} and turn the recording level up.",
    )


def _noise(measured: Measured, settings: RecordingSettings) -> Finding | None:
    above_db = measured.loud_db - measured.noise_floor_db
    if above_db >= settings.least_range_db:
        return None
    return Finding(
        code="noise",
        severity="warning",
        what=f"The quietest moments are only {above_db:.0f} dB below the plucks"
        f" (noise at {measured.noise_floor_db:.0f} dB).",
        spoils="The decay times and the judgement of dull strings; soft plucks may be missed.",
        remedy=f"Record in a quiet room with windows shut and fans off, and muffle the neighbours. {CLOSER}.",
    )


def _hum(measured: Measured, settings: RecordingSettings) -> Finding | None:
    if measured.hum_hz is None or measured.hum_db is None:
        return None
    if measured.hum_db < measured.noise_floor_db - settings.hum_below_noise_db:
        return None
    return Finding(
        code="hum",
        severity="note",
        what=f"Mains hum at {measured.hum_hz:.0f} Hz and its multiples ({measured.hum_db:.0f} dB).",
        spoils="The decay of bass strings, and their pitch where a string lies close to the hum.",
        remedy="Unplug the recorder's charger, keep away from lamps, dimmers and amplifiers, or record on battery.",
    )


def _bandwidth(measured: Measured, settings: RecordingSettings) -> Finding | None:
    if measured.bandwidth_hz >= settings.wanted_bandwidth_hz or not measured.cliff:
        return None
    return Finding(
        code="bandwidth",
        severity="warning",
        what=f"Nothing above {measured.bandwidth_hz / 1000:.1f} kHz is in the recording.",
        spoils="The judgement of dull strings from the middle upwards, and the top strings' partials.",
        remedy="Record with a music or voice-memo app at 44.1 or 48 kHz in its best quality (not a"
        " phone call or a"
        " messenger's voice message) and send the file itself.",
    )


def review_with_plucks(
    info: RecordingInfo,
    levels: Levels,
    onsets_s: Sequence[float],
    ends_s: Sequence[float],
    settings: RecordingSettings,
    gate_db: float | None = None,
) -> RecordingInfo:
    """`info` with what only the plucks can show: automatic gain, a gate, and plucks too close together.

    `onsets_s`, `ends_s`: start of each pluck in time order and where it stops being usable, seconds; `gate_db`: how far
    a gate turns down (`gate`).
    """
    lift_db = gain_lift_db(levels, onsets_s, ends_s, settings)
    found = [_too_close(onsets_s, settings)]
    automatic = lift_db is not None and lift_db >= settings.gain_lift_db
    if automatic:
        found.append(
            Finding(
                code="automatic gain",
                severity="note",
                what="The recorder seems to turn its level up by itself as a string fades (its hiss"
                f" swells by {lift_db:.0f}"
                " dB within a typical pluck).",
                spoils="The decay times come out too long; comparisons between strings still hold"
                " roughly, pitch is sound.",
                remedy=LEVEL_OFF,
            )
        )
    if gate_db is not None:
        found.append(
            Finding(
                code="gate",
                severity="warning",
                what="The recorder seems to turn the sound down further as a string fades, as noise reduction does (its"
                f" hiss falls with the sound, by up to {gate_db:.0f} dB).",
                spoils="Strings seem to die away sooner than they do. That was allowed for as far as the hiss shows it;"
                " decay times and the judgement of dull strings are less sure, pitch is sound.",
                remedy=LEVEL_OFF,
            )
        )
    return replace(
        info,
        automatic_gain=automatic or gate_db is not None,
        findings=_sorted((*info.findings, *(f for f in found if f is not None))),
    )


def gain_lift_db(
    levels: Levels, onsets_s: Sequence[float], ends_s: Sequence[float], settings: RecordingSettings
) -> float | None:
    """Median rise of the hiss from after a pluck's attack to its end, dB; None where it cannot be told."""
    s = settings
    lifts = []
    for onset_s, end_s in zip(onsets_s, ends_s, strict=True):
        early = _hiss(levels, onset_s + s.gain_after_s, onset_s + s.gain_after_s + s.gain_span_s)
        late = _hiss(levels, end_s - s.gain_span_s, end_s - s.gain_guard_s)
        if early is None or late is None or end_s - onset_s < s.gain_least_s:
            continue
        if min(early, late) > s.hiss_least_db:
            lifts.append(late - early)
    return float(np.median(lifts)) if len(lifts) >= s.gain_least_plucks else None


def _hiss(levels: Levels, start_s: float, end_s: float) -> float | None:
    """Median hiss over a stretch, or None where no whole frame lies in it."""
    first = int(np.ceil(start_s / levels.hiss_step_s))
    last = int(end_s / levels.hiss_step_s)
    stretch = levels.hiss_db[max(0, first) : max(0, last)]
    return float(np.median(stretch)) if len(stretch) else None


def _too_close(onsets_s: Sequence[float], settings: RecordingSettings) -> Finding | None:
    apart_s = np.diff(np.asarray(onsets_s, dtype=float))
    close = np.flatnonzero(apart_s < settings.close_s)
    if len(close) <= settings.most_close * len(apart_s):
        return None
    where = _places([float(onsets_s[k]) for k in close.tolist()], settings.places_shown)
    return Finding(
        code="too close",
        severity="warning",
        what=f"{len(close)} of {len(onsets_s)} plucks follow the one before within"
        f" {settings.close_s:g} s (at {where}).",
        spoils="Their pitch has a wider interval and their decay can hardly be measured.",
        remedy="Leave each string time to sound: about 6 s for bass wires, 3 s in the middle, 2 s at the top.",
    )
