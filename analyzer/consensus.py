"""How far a string's pitch moved, from its pitches and from all its partials together.

Task: two measurements of one string -> the change of its pitch in cents, with its interval.

Method. Where both pitches are well measured their interval is the change, and nothing else is asked. Else their
partials help. A string that is tuned keeps its partials' ratios but for the soundboard's pull, so that each partial
seen both times measures the same change, whatever lies off the stiff-string law in both alike. The largest group of
partials that agree is their word (a mode, which wrong peaks in a minority of partials cannot move). Where the first
partial is in that group, it measures the change of pitch itself; where it is not, the soundboard may have pulled it,
and the group counts for less. Pitches and partials are joined by their weights where they agree; where they do not,
partials that have the first among them are believed, and else the interval is widened to reach both.

Known limits: partials that are wrong in most of their number, alike in both recordings, would agree on a wrong change.
"""

import math
import statistics
from dataclasses import dataclass

from analyzer.notes import cents
from analyzer.settings import ChangeSettings
from analyzer.survey import StringRow


@dataclass(frozen=True, slots=True, kw_only=True)
class Moved:
    """A change of pitch."""

    change_cents: float
    """After minus before."""
    u95: float
    """Half-width of its 95 % interval from the two measurements alone: no clock, no second pluck."""
    disagrees: bool
    """The two pitches say otherwise than the partials."""


def moved(old: StringRow, now: StringRow, settings: ChangeSettings) -> Moved | None:
    """The change; None unless both pitches and their intervals are known."""
    if old.pitch_hz is None or now.pitch_hz is None or old.cents_u95 is None or now.cents_u95 is None:
        return None
    pitch, u_pitch = cents(now.pitch_hz, old.pitch_hz), math.hypot(old.cents_u95, now.cents_u95)
    agreed = None if u_pitch <= settings.sure_cents else _agreed(old, now, settings)
    if agreed is None:
        return Moved(change_cents=pitch, u95=u_pitch, disagrees=False)
    partials, u_partials, has_first = agreed
    if abs(pitch - partials) <= math.hypot(u_pitch, u_partials):
        weights = u_pitch**-2, u_partials**-2
        joined = (pitch * weights[0] + partials * weights[1]) / sum(weights)
        return Moved(change_cents=joined, u95=sum(weights) ** -0.5, disagrees=False)
    if has_first:
        return Moved(change_cents=partials, u95=u_partials, disagrees=True)
    return Moved(change_cents=pitch, u95=max(u_pitch, abs(pitch - partials)), disagrees=True)


def _agreed(old: StringRow, now: StringRow, settings: ChangeSettings) -> tuple[float, float, bool] | None:
    """What the largest group of partials says, its half-width, and whether the first is among them."""
    later = {p.number: p.frequency_hz for p in now.partials}
    changes = {p.number: cents(later[p.number], p.frequency_hz) for p in old.partials if p.number in later}
    groups = [
        {n: d for n, d in changes.items() if abs(d - centre) <= settings.agreeing_cents} for centre in changes.values()
    ]
    group = max(groups, key=len, default={})
    if len(group) < max(settings.agreeing_n, len(changes) / 2):
        return None
    values = list(group.values())
    u95 = settings.coverage * statistics.stdev(values) / math.sqrt(len(values))
    floor = settings.agreeing_floor_cents if 1 in group else settings.body_cents
    return statistics.median(values), math.hypot(u95, floor), 1 in group
