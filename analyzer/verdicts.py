"""Verdicts in words: what one string's figures come to, with the evidence and how sure it is.

Task. From the judgements of damping (`condition`) and of beats (`falseness`) to one of five words and the sentences
that give the figures behind it. Nothing is measured here.

Conventions. A string that is both dull and false is called by the likelier. What cannot be heard (fraying, flattening
at a lever or disc, an opened winding) is never a verdict: it is for the eye and the hand.
"""

from collections.abc import Sequence

import numpy as np

from analyzer.condition import Condition
from analyzer.decay import Decay
from analyzer.falseness import Falseness
from analyzer.loss import AgainstReference, WholeDamping
from analyzer.rattle import Rattle
from analyzer.settings import Settings
from analyzer.spelling import decimals, is_timed
from analyzer.survey import Status, Survey, Verdict


def verdict(
    status: Status, doubtful: bool, condition: Condition | None, falseness: Falseness | None, settings: Settings
) -> Verdict:
    """The word. `doubtful`: something else about it needs a hand first (an octave low, a lever engaged)."""
    dull = condition.dull_probability if condition else None
    false = falseness.false_probability if falseness else None
    if status != "heard" or (dull is None and (false is None or false < settings.falseness.call_false)):
        return "cannot judge"
    if doubtful:
        return "check by hand"
    if false is not None and false >= settings.falseness.call_false and false > (dull or 0.0):
        return "false"
    if dull is not None and dull >= settings.condition.call_dull:
        return "dull"
    if (false or 0.0) >= settings.falseness.check_false or (dull or 0.0) >= settings.condition.check_dull:
        return "check by hand"
    return "sound"


def evidence(
    condition: Condition | None,
    falseness: Falseness | None,
    decay: Decay | None,
    names: Sequence[str],
    settings: Settings,
) -> tuple[str, ...]:
    """Sentences with the figures; `names` of the strings in the order `falseness.answering` counts in."""
    return (*_dull_sentences(condition, decay, settings), *_false_sentences(falseness, names, settings))


def _dull_sentences(condition: Condition | None, decay: Decay | None, settings: Settings) -> tuple[str, ...]:
    if condition is None:
        return ()
    if condition.dull_probability is None or condition.departure is None or condition.departure_u95 is None:
        return (f"Dullness cannot be judged: {condition.reason}.",)
    if condition.dull_probability < settings.condition.check_dull:
        return ()
    low, middle, high = np.exp(condition.departure + condition.departure_u95 * np.array([-1.0, 0.0, 1.0]))
    rings = ""
    decay_s = decay.decay_s if decay is not None and is_timed(decay) else None
    if decay_s is not None and condition.expected_decay_s is not None:
        # where the whole is not shortened as the partials are, a few that ring on carry it: no contradiction, but said
        joined = "; it rings" if low * decay_s < condition.expected_decay_s else ", though as a whole it rings"
        rings = f"{joined} {decay_s:.1f} s where {condition.expected_decay_s:.1f} s are usual here"
    called = condition.dull_probability >= settings.condition.call_dull
    return (
        f"Its {condition.partials_used} partials die away {middle:.1f} times ({low:.1f} to {high:.1f}) as fast as the"
        f" other strings lead one to expect{rings}: "
        + (
            f"dull ({condition.dull_probability:.0%}); replace when money allows."
            if called
            else f"it may be dull ({condition.dull_probability:.0%}); pluck it again to be surer."
        ),
    )


def _false_sentences(falseness: Falseness | None, names: Sequence[str], settings: Settings) -> tuple[str, ...]:
    if falseness is None or falseness.false_probability is None:
        return ()
    s, out = settings.falseness, []
    likely = falseness.false_probability >= s.check_false
    if likely and falseness.beats and falseness.split_cents is not None:
        rates = sorted(b.rate_hz for b in falseness.beats)
        digits_n = max(1, decimals(max(b.rate_u95_hz for b in falseness.beats)))
        below_db = -np.median([b.weaker_db for b in falseness.beats])
        numbers = [str(b.number) for b in falseness.beats]
        word = "a false string" if falseness.false_probability >= s.call_false else "it may be a false string"
        beat = (
            f"Its partials {', '.join(numbers[:-1])} and {numbers[-1]} beat {rates[0]:.{digits_n}f} to"
            f" {rates[-1]:.{digits_n}f} times a second, each"
            if len(rates) > 1
            else f"Its partial {numbers[0]} beats {rates[0]:.{digits_n}f} times a second,"
        )
        out.append(
            f"{beat} two tones {falseness.split_cents:.1f} cents apart where {falseness.usual_cents:.1f} are usual"
            f" here, the weaker {below_db:.0f} dB below the other: {word} ({falseness.false_probability:.0%})."
        )
        if falseness.answering is not None:
            out.append(
                f"String {names[falseness.answering]} answering would sound the same: damp all other strings, pluck it"
                " again and listen."
            )
    if falseness.off_law is not None and falseness.off_law > s.off_law:
        out.append(
            f"Its partials lie {falseness.off_law:.0f} times as far off the law of a stiff string as is usual here:"
            " look for a kink, an uneven or worn place, a loose winding."
        )
    return tuple(out)


def rattle_sentences(rattle: Rattle | None) -> tuple[str, ...]:
    """What a rattle shows."""
    if rattle is None:
        return ()
    return (
        f"It buzzes or something rattles: above {rattle.from_hz:.0f} Hz the sound holds until {rattle.held_s:.1f} s and"
        f" has fallen by {rattle.fell_db:.0f} dB at {rattle.stopped_s:.1f} s, wavering in step with the string"
        f" ({rattle.locked_db:.0f} dB); look for what it touches or shakes.",
    )


def whole_sentences(
    damping: WholeDamping,
    against: AgainstReference | None,
    reference: Survey | None,
    names: Sequence[str],
    gain: bool,
    settings: Settings,
) -> tuple[str, ...]:
    """What holds for the harp as a whole.

    `names` of the strings that `against.more` counts in; `gain`: whether this harp's recorder turned its level.
    """
    out = []
    if damping.high and damping.typical_loss is not None:
        out.append(
            f"All strings die away fast (typical loss factor {damping.typical_loss:.4f}): they may all be old, and"
            " comparing them with each other does not show that. Compare with a recording of a similar harp."
        )
    if reference is not None:
        out.extend(_reference_sentences(against, reference, names, gain, settings))
    return tuple(out)


def _reference_sentences(
    against: AgainstReference | None, reference: Survey, names: Sequence[str], gain: bool, settings: Settings
) -> list[str]:
    called = " of ".join(part for part in (reference.title, reference.date) if part) or "given"
    if against is None:
        return [
            f"Too few strings ring in both this recording and the reference survey ({called}) to compare their damping."
        ]
    figures = (
        f"The {against.strings_n} strings that this harp and the reference survey ({called}) share die away"
        f" {against.ratio:.2f} times ({against.low:.2f} to {against.high:.2f}) as fast here as there"
    )
    limit = settings.loss.other_recording
    if against.beyond(limit):
        out = [f"{figures}: more than another room or recorder explains; this harp's strings may all be old."]
    else:
        out = [f"{figures}: no more than another room or recorder may explain (up to {limit:g} times)."]
    if against.more:
        out.append(
            f"Damped clearly more than the rest against the reference: {', '.join(names[k] for k in against.more)}."
        )
    turned = [
        where
        for where, it in (("this", gain), ("the reference", any(r.automatic_gain for r in reference.recordings)))
        if it
    ]
    if turned:
        out.append(
            f"The level was turned by the recorder itself in {' and '.join(turned)} recording, which changes how fast"
            " strings seem to die away: the comparison is rough."
        )
    return out
