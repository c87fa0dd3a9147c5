"""Short plain sentences about single strings and plucks, and about what was said against what was heard."""

import math
from typing import TYPE_CHECKING

from analyzer.doubts import WholeHarp
from analyzer.hearing import HeardPluck, Hearing
from analyzer.holding import Fall
from analyzer.notes import in_words
from analyzer.request import Request
from analyzer.settings import Settings

if TYPE_CHECKING:
    from collections.abc import Sequence

    from analyzer.judging import Chosen


def pluck_reason(pluck: HeardPluck, settings: Settings) -> str:
    """Why a pluck does not count, in the table's words."""
    if pluck.string is None:
        return "not a string"
    if pluck.usable_s < settings.survey.least_usable_s or pluck.pitch is None:
        return "too short"
    return "slip" if pluck.slip else "repeated"


def string_remarks(
    k: int,
    request: Request,
    chosen: "Chosen | None",
    cents: float | None,
    whole: WholeHarp,
    fallen: Fall | None,
    tapped: float,
    faint: tuple[str, float] | None,
    taken: tuple[str, float] | None,
    settings: Settings,
) -> tuple[str, ...]:
    """What a person should know about this string besides its figures."""
    if chosen is None:
        if request.missing and request.tuning.targets[k].string in request.missing:
            return ("Said to be missing.",)
        if request.tuning.targets[k].string not in _between(request):
            return ("It was not to be in the recording: nothing is said of it.",)
        if tapped >= settings.survey.tapped:
            return ("No pluck belongs to it, and there was a tap in its place: missing.",)
        if taken is not None:
            return (
                "No pluck belongs to it: missing, broken or skipped, or its sound was taken for"
                f" {taken[0]} ({taken[1]:.0%}).",
                *_faint(faint),
            )
        return ("No pluck belongs to it: missing, broken or skipped.", *_faint(faint))
    heard, out = chosen.heard, []
    names = [t.string for t in request.tuning.targets]
    if heard.also and heard.confidence < settings.survey.sure:
        others = " or ".join(f"{names[i]} ({chance:.0%})" for i, chance in heard.also)
        out.append(f"This pluck may also be {others}; the figures are for {names[k]} ({heard.confidence:.0%}).")
        if heard.pitch is not None:
            for i, _ in heard.also:
                off_cents = 1200 * math.log2(heard.pitch.pitch_hz / request.tuning.targets[i].target_hz)
                out.append(f"As {names[i]} it stands at {off_cents:+.1f} cents.")
    if heard.pitch is None:
        out.append("Too faint or too short to measure its pitch.")
    elif heard.pitch.inferred:
        out.append("Its first partial could not be measured; the pitch is inferred from the higher ones.")
    if cents is not None and cents < settings.survey.far_low_cents:
        out.append(
            f"{-cents / 100:.1f} semitones low: slack, an octave low, or the wrong string fitted; check by hand before"
            " turning."
        )
    if heard.other_octave > settings.survey.octave_doubt:
        out.append(f"Its octave is not certain ({heard.other_octave:.0%} for another one).")
    if k in whole.raised and whole.others_off:
        out.append("About a semitone above its neighbours, though all levers were said to be on: are theirs off?")
    elif k in whole.raised:
        out.append("About a semitone above its neighbours: is its lever engaged, or a disc that does not release?")
    if k in whole.lowered:
        out.append("About a semitone below its neighbours: is its lever off, which was said to be on?")
    out.extend(_repeats(chosen, fallen, settings))
    return tuple(out)


def _faint(faint: tuple[str, float] | None) -> tuple[str, ...]:
    """Of (recording, moment) at which something faint lies in the place of a string that was not heard."""
    if faint is None:
        return ()
    file, at_s = faint
    return (
        f"Something faint begins at {at_s:.1f} s of {file}, about where its pluck would be: if that was this string,"
        " record it again louder.",
    )


def _repeats(chosen: "Chosen", fallen: Fall | None, settings: Settings) -> tuple[str, ...]:
    if fallen is not None:
        return (
            f"Plucked {fallen.plucks_n} times; its pitch fell by {fallen.cents:.1f} ± {fallen.u95_cents:.1f} cents from"
            " the first to the last, more than its glide or another pluck explains: not holding (slipping pin, knot or"
            " stretch), or one pluck was another string; look.",
        )

    mine = chosen.heard.pitch
    others = [p.pitch for p in chosen.others if p.pitch is not None]
    if mine is None or not others:
        return ()
    off = [(abs(1200 * math.log2(p.pitch_hz / mine.pitch_hz)), p.cents_u95) for p in others]
    spread = max(0.1, math.ceil(10 * max(cents for cents, _ in off)) / 10)  # "up to", and no two are quite the same
    sentence = f"Plucked {len(others) + 1} times; the pitches differ by up to {spread:.1f} cents"
    joint = [math.hypot(u95, mine.cents_u95, settings.changes.repluck_cents) for _, u95 in off]
    if any(cents > settings.survey.repeat_beyond * u95 for (cents, _), u95 in zip(off, joint, strict=True)):
        return (f"{sentence}, more than chance: it slips, or one pluck was another string.",)
    return (f"{sentence}.",)


def _clock(hearing: Hearing, reference_hz: float) -> str:
    """What the reference tone says of the recorder's clock."""
    read = hearing.reference
    if read is None or read.offset_cents is None:
        return f"{hearing.info.name}: the clock was not checked: {read.reason if read else ''}"
    way = "high" if read.offset_cents > 0 else "low"
    return (
        f"{hearing.info.name}: the recorder's clock shows the {reference_hz:g} Hz reference"
        f" {abs(read.offset_cents):.2f} ± {read.u95_cents:.2f} cents {way}; that is taken off every pitch."
    )


def contradictions(
    request: Request, hearings: list[Hearing], unheard: "Sequence[str]", settings: Settings
) -> tuple[str, ...]:
    """Where the sound disagrees with what was said, and what else holds for the whole harp."""
    out = []
    for h in hearings:
        if h.reference is not None and request.reference_hz is not None:
            out.append(_clock(h, request.reference_hz))
        for at_s, string in request.named:
            if (
                not any(abs(p.pluck.onset_s - at_s) < settings.matching.named_within_s for p in h.plucks)
                and h is hearings[0]
            ):
                out.append(f"You named the pluck at {at_s:.1f} s {string}, but no sound begins there.")
        for event in h.matching.misfits:
            at_s = h.plucks[event].pluck.onset_s
            out.append(f"Your correction of the pluck at {at_s:.1f} s fits neither its place in the row nor its sound.")
        if request.order is not None and h.matching.order != request.order:
            out.append(
                f"{h.info.name}: you said the strings were plucked {request.order}, but they sound in another order."
            )
    if request.missing:
        names = [t.string for t in request.tuning.targets]
        heard = {names[p.string] for h in hearings for p in h.plucks if p.string is not None}
        for string in sorted(request.missing & heard):
            out.append(f"{string} was said to be missing, but a pluck is best explained by it.")
    if request.missing is not None:
        between = _between(request)
        left = [string for string in unheard if string in between and string not in request.missing]
        if left:
            which = "no other string" if request.missing else "no string"
            were = "was" if len(left) == 1 else "were"
            out.append(
                f"You said that {which} is missing, but {in_words(left)} {were} not heard: passed over, or plucked too"
                " softly?"
            )
    return tuple(out)


def _between(request: Request) -> list[str]:
    """The strings that were to be plucked: all, those named, or the first to the last where both were said."""
    names = [target.string for target in request.tuning.targets]
    if request.only is not None:
        return [name for name in names if name in request.only]
    if request.first is None or request.last is None:
        return names
    low, high = sorted((names.index(request.first), names.index(request.last)))
    return names[low : high + 1]
