"""What is said of one string's change: one word for what became of it, and short sentences.

Conventions as in `changes`. That a string became dull is said only where its decay is shown to have changed: a
judgement that came out otherwise shows nothing by itself.
"""

import math
from typing import Literal

from analyzer.consensus import Moved
from analyzer.likeness import Likeness, Own
from analyzer.settings import ChangeSettings
from analyzer.survey import StringRow

Effect = Literal["better", "worse", "no change that can be shown", "changed", "new", "gone", "cannot be said"]

NO_CHANGE: Effect = "no change that can be shown"


def effect_of(
    old: StringRow,
    now: StringRow,
    kind: str,
    changed: bool | None,
    u95: float | None,
    decay: Own | None,
    settings: ChangeSettings,
) -> Effect:
    """One word for what became of a string: of its distance from its note, and of its condition."""
    if kind:
        return "new"
    if now.status == "not heard" and old.status != "not heard":
        return "gone"
    if not old.status == now.status == "heard":
        return "cannot be said"
    steps = []
    if changed and old.cents is not None and now.cents is not None and u95 is not None:
        nearer = abs(old.cents) - abs(now.cents)
        steps.append(-1 if _tightened(old, now, settings) else 0 if abs(nearer) <= u95 else math.copysign(1, nearer))
    if old.dull is False and now.dull is True and _shorter(decay):
        steps.append(-1)
    if old.dull is True and now.dull is False and _longer(decay):
        steps.append(1)
    if changed is None and not steps:
        return "cannot be said"
    better, worse = any(s > 0 for s in steps), any(s < 0 for s in steps)
    if better != worse:
        return "better" if better else "worse"
    return "changed" if better or changed else NO_CHANGE


def _tightened(old: StringRow, now: StringRow, settings: ChangeSettings) -> bool:
    """Whether a string has come to stand so far above its note that it is overloaded."""
    return old.cents is not None and now.cents is not None and now.cents >= settings.tight_cents > old.cents


def remarks_of(
    old: StringRow,
    now: StringRow,
    kind: str,
    replaced: bool,
    step: Moved | None,
    u95: float | None,
    decay: Own | None,
    bright: Own | None,
    settings: ChangeSettings,
) -> tuple[str, ...]:
    """Short sentences."""
    said = []
    if kind == "possible":
        said.append("Not heard before and heard now: perhaps a new string, or it was only skipped before.")
    if kind == "stated":
        said.append("Said to be new: its condition is not compared with the old string's.")
    if now.status == "not heard" and old.status != "not heard":
        said.append("Heard before and not heard now: broken, taken off or skipped; cause not determined.")
    if "uncertain" in (old.status, now.status):
        said.append("Which pluck was this string's is not sure, so no change is claimed.")
    if replaced:
        said.append("Sounds like another string than before: perhaps replaced or cleaned.")
    if step is not None and abs(step.change_cents) > settings.far_cents and not kind:
        said.append(f"Moved by {abs(step.change_cents):.1f} ± {u95:.1f} cents: much more than a retuning.")
        said.append("How long it rings is not compared at so different a pitch.")
    if old.status == now.status == "heard" and not kind and _tightened(old, now, settings):
        said.append("Now far above its note: to be let down.")
    if step is not None and step.disagrees:
        said.append(
            "Its partials moved by another amount than its measured pitch; the interval or figure allows for it."
        )
    if decay is not None and abs(decay.value) > decay.u95:
        ratio = math.exp(decay.value)
        long = f"{ratio:.1f} times as long" if ratio > 1 else f"only {100 * ratio:.0f} % as long"
        said.append(f"Rings {long} as before, beside the others.")
    if bright is not None and abs(bright.value) > bright.u95:
        said.append(f"{'Brighter' if bright.value > 0 else 'Less bright'} than before, beside the others.")
    if not kind and (text := _dull_remark(old, now, decay)):
        said.append(text)
    return tuple(said)


def _dull_remark(old: StringRow, now: StringRow, decay: Own | None) -> str:
    """What may be said of a string that was judged dull in one survey alone; empty for the others."""
    if old.dull is False and now.dull is True:
        if _shorter(decay):
            return "Dull now and not before: ordinary wear, unless something happened to it."
        return "Judged dull now and not before: that it became duller cannot be shown."
    if old.dull is True and now.dull is False and not _longer(decay):
        return "Judged dull before and not now: that it became less dull cannot be shown."
    return ""


def _shorter(decay: Own | None) -> bool:
    """Whether it is shown to die away sooner than before."""
    return decay is not None and decay.value < -decay.u95


def _longer(decay: Own | None) -> bool:
    return decay is not None and decay.value > decay.u95


def pair_remarks(decay: Likeness, settings: ChangeSettings) -> tuple[str, ...]:
    """What holds of all strings of two surveys."""
    if decay.common is None:
        return (
            f"Decay times were measured in both surveys on {decay.strings_n} strings only; it takes"
            f" {settings.least_common_n} to tell the strings from the phone and the room, so they are not compared.",
        )
    return ()
