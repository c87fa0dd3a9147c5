"""Before and after: what changed between surveys of one harp, string by string, and what cannot be shown.

Task: surveys in the order of time -> one `Pair` for each two that follow one another, with a row for every string.

Conventions: the change of a string's pitch is the interval from before to after (`consensus`), cents, a rise positive,
whatever either was to be tuned to; `before_cents` and `after_cents` are each against the target of its own survey.
Intervals are half-widths of 95 %. A change counts as one when it is larger than the joint interval of both
measurements: the two pitches', the two recorders' clocks', and what a second pluck of the same string may read
differently. Everything else is "no change that can be shown", which does not say that nothing changed.

Where a survey is not sure which pluck was a string's, the interval reaches over every pluck that it may have been, and
no change is claimed. Decay and brightness are compared by `likeness`.
"""

import datetime
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from analyzer.change_remarks import Effect, effect_of, pair_remarks, remarks_of
from analyzer.consensus import Moved, moved
from analyzer.errors import UnusableInput
from analyzer.likeness import Likeness, Own, own_changes
from analyzer.lineup import day_of
from analyzer.load import harp_load
from analyzer.notes import cents
from analyzer.settings import ChangeSettings
from analyzer.survey import Status, StringRow, Survey, Verdict

_DEFAULTS = ChangeSettings()


@dataclass(frozen=True, slots=True, kw_only=True)
class New:
    """A string said to be new."""

    string: str
    day: datetime.date | None = None
    """On which it was put on, where that was said."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StringChange:
    """One string in two surveys."""

    string: str
    note: str
    """What it is to be tuned to in the later survey."""
    before_status: Status
    after_status: Status
    before_cents: float | None
    before_u95: float | None
    """Half-width of its own 95 % interval, cents, as its survey gives it."""
    after_cents: float | None
    after_u95: float | None
    change_cents: float | None
    """Of the pitch itself, after minus before; None unless measured in both."""
    change_u95: float | None
    """Half-width of its 95 % interval, cents: that of both measurements together."""
    changed: bool | None
    """Whether a change is shown; None where it cannot be said."""
    before_decay_s: float | None
    before_decay_u95_s: float | None
    after_decay_s: float | None
    after_decay_u95_s: float | None
    decay_ratio: float | None
    """After over before, with what all strings have in common taken out; None where that is not possible."""
    decay_ratio_u95: float | None
    """Its 95 % interval reaches from ratio/this to ratio·this."""
    brightness_change_db: float | None
    """After minus before, likewise."""
    brightness_u95_db: float | None
    before_dull: bool | None
    after_dull: bool | None
    before_verdict: Verdict
    after_verdict: Verdict
    before_load_share: float | None
    """Tension as a share of that at its note, 2^(cents/600)."""
    after_load_share: float | None
    new_string: Literal["stated", "possible", ""]
    """`possible`: not heard before and heard now, which may also be because it was skipped."""
    perhaps_replaced: bool
    """Heard in both, and sounding like another string in at least two ways."""
    effect: Effect
    remarks: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Pair:
    """Two surveys that follow one another."""

    before: int
    """Index of the earlier one in the order of time."""
    after: int
    before_date: str
    after_date: str
    strings: tuple[StringChange, ...]
    """Lowest first."""
    before_load_share: float
    after_load_share: float
    """The harp's load as a share of that in tune; a string not heard counts as none."""
    common_decay_ratio: float | None
    """What recordings (or all strings alike) make of decay; None where too few strings were in both."""
    common_brightness_db: float | None
    remarks: tuple[str, ...]


def compare(
    surveys: Sequence[Survey], *, new: Sequence[New] = (), settings: ChangeSettings = _DEFAULTS
) -> tuple[Pair, ...]:
    """Each two surveys that follow one another, in the order given (`lineup.in_order` makes it that of time).

    `new`: strings said to be new. Without its day one counts in the last pair in which it was heard again, else in the
    last of all. Raises UnusableInput for a day that no two surveys lie about.
    """
    fitted = [(one.string, _fitted_before(surveys, one)) for one in new]
    return tuple(
        _pair(surveys, b - 1, b, frozenset(string for string, place in fitted if place == b), settings)
        for b in range(1, len(surveys))
    )


def _fitted_before(surveys: Sequence[Survey], new: New) -> int:
    """Index of the first survey with the new string on; put on on a survey's day, it was by then, unless heard anew
    only in the next."""
    later = list(range(1, len(surveys)))
    if new.day is not None:
        dated = [b for b in later if surveys[b - 1].date and surveys[b].date]
        later = [b for b in dated if day_of(surveys[b - 1]) <= new.day <= day_of(surveys[b])]
        if not later:
            raise UnusableInput(
                f"--new {new.string}={new.day}: no two surveys lie before and after that day; give a day between two"
                " surveys that have dates."
            )
    appears = [b for b in later if not _heard(surveys[b - 1], new.string) and _heard(surveys[b], new.string)]
    return appears[-1] if appears else later[-1 if new.day is None else 0]


def became_dull(row: StringChange) -> bool:
    """Judged dull now and not before, and shown to die away sooner."""
    shown = row.decay_ratio is not None and row.decay_ratio * (row.decay_ratio_u95 or math.inf) < 1.0
    return row.before_dull is False and row.after_dull is True and shown


def rings_less(row: StringChange, settings: ChangeSettings) -> bool:
    """Shown to ring so much shorter than before, against the others, that no listener misses it."""
    ratio, u95 = row.decay_ratio, row.decay_ratio_u95
    return ratio is not None and u95 is not None and ratio * u95 < 1.0 and ratio < 1 / settings.damping_ratio


def _heard(survey: Survey, string: str) -> bool:
    return any(row.string == string and row.status != "not heard" for row in survey.strings)


def _pair(surveys: Sequence[Survey], a: int, b: int, new: frozenset[str], settings: ChangeSettings) -> Pair:
    before, after = surveys[a], surveys[b]
    rows = list(zip(before.strings, after.strings, strict=True))
    decay = _decay_likeness(rows, new, settings)
    bright = _brightness_likeness(rows, new, settings)
    loads = [
        harp_load(s.layout, s.tuning.targets, {row.string: row.cents for row in s.strings}) for s in (before, after)
    ]
    shares = [{row.string: row.share for row in load.strings} for load in loads]
    strings = []
    for i, (old, now) in enumerate(rows):
        step = moved(old, now, settings)
        change = None if step is None else step.change_cents
        u95 = None if step is None else _u95(before, after, old, now, step, settings)
        sure = old.status == now.status == "heard"
        changed = abs(change) > u95 if change is not None and u95 is not None and sure else None
        kind = _new(old, now, stated=old.string in new)
        replaced = not kind and _replaced(old, now, change, decay.own[i], settings)
        far = change is not None and abs(change) > settings.far_cents  # then it rings otherwise by its pitch alone
        rings, shines = (None, None) if far else (decay.own[i], bright.own[i])
        strings.append(
            StringChange(
                string=now.string,
                note=now.note,
                before_status=old.status,
                after_status=now.status,
                before_cents=old.cents,
                before_u95=old.cents_u95,
                after_cents=now.cents,
                after_u95=now.cents_u95,
                change_cents=change,
                change_u95=u95,
                changed=changed,
                before_decay_s=old.decay_s,
                before_decay_u95_s=old.decay_u95_s,
                after_decay_s=now.decay_s,
                after_decay_u95_s=now.decay_u95_s,
                decay_ratio=_exp(rings, "value"),
                decay_ratio_u95=_exp(rings, "u95"),
                brightness_change_db=None if shines is None else shines.value,
                brightness_u95_db=None if shines is None else shines.u95,
                before_dull=old.dull,
                after_dull=now.dull,
                before_verdict=old.verdict,
                after_verdict=now.verdict,
                before_load_share=shares[0][old.string],
                after_load_share=shares[1][now.string],
                new_string=kind,
                perhaps_replaced=replaced,
                effect=effect_of(old, now, kind, changed, u95, rings, settings),
                remarks=remarks_of(old, now, kind, replaced, step, u95, rings, shines, settings),
            )
        )
    return Pair(
        before=a,
        after=b,
        before_date=before.date,
        after_date=after.date,
        strings=tuple(strings),
        before_load_share=loads[0].whole.share,
        after_load_share=loads[1].whole.share,
        common_decay_ratio=None if decay.common is None else math.exp(decay.common),
        common_brightness_db=bright.common,
        remarks=pair_remarks(decay, settings),
    )


def _exp(own: Own | None, name: Literal["value", "u95"]) -> float | None:
    return None if own is None else math.exp(min(getattr(own, name), _WIDEST))


_WIDEST = 30.0
"""ln of a ratio beyond which nothing more can be said than that it may be any."""


def _u95(before: Survey, after: Survey, old: StringRow, now: StringRow, step: Moved, settings: ChangeSettings) -> float:
    """Half-width of a change: the measurements, the recorders' clocks, another pluck, other readings of the survey."""
    u95 = math.hypot(step.u95, before.clock_u95_cents, after.clock_u95_cents, settings.repluck_cents)
    return u95 + _other_readings_cents(before, old, settings) + _other_readings_cents(after, now, settings)


def _other_readings_cents(survey: Survey, row: StringRow, settings: ChangeSettings) -> float:
    """How far the pitch of an uncertain string would move with another reading of its survey, at most."""
    if row.status != "uncertain" or row.pitch_hz is None:
        return 0.0
    others = [
        pluck.pitch_hz
        for pluck in survey.plucks
        if pluck.pitch_hz is not None
        and any(name == row.string and p >= settings.alternative_share for name, p in pluck.also_possible)
    ]
    return max((abs(cents(hz, row.pitch_hz)) for hz in others), default=0.0)


def _decay_likeness(
    rows: Sequence[tuple[StringRow, StringRow]], new: frozenset[str], settings: ChangeSettings
) -> Likeness:
    """Of the logarithm of the decay time."""
    differences: list[float | None] = []
    u95 = []
    for old, now in rows:
        known = old.status == now.status == "heard" and old.string not in new and old.decay_s and now.decay_s
        differences.append(math.log(now.decay_s / old.decay_s) if known and old.decay_s and now.decay_s else None)
        relative = [(r.decay_u95_s or 0.0) / r.decay_s for r in (old, now) if r.decay_s]
        u95.append(math.hypot(*relative, math.log(settings.least_decay_ratio)))
    return _own(differences, u95, settings)


def _brightness_likeness(
    rows: Sequence[tuple[StringRow, StringRow]], new: frozenset[str], settings: ChangeSettings
) -> Likeness:
    differences = [
        now.brightness_db - old.brightness_db
        if old.status == now.status == "heard"
        and old.string not in new
        and old.brightness_db is not None
        and now.brightness_db is not None
        else None
        for old, now in rows
    ]
    u95 = [settings.least_brightness_db] * len(rows)
    return _own(differences, u95, settings)


def _own(differences: Sequence[float | None], u95: Sequence[float], settings: ChangeSettings) -> Likeness:
    return own_changes(
        differences,
        u95,
        least_n=settings.least_common_n,
        neighbours_n=settings.neighbours_n,
        whole_share=settings.whole_share,
    )


def _new(old: StringRow, now: StringRow, *, stated: bool) -> Literal["stated", "possible", ""]:
    if stated:
        return "stated"
    return "possible" if old.status == "not heard" and now.status == "heard" else ""


def _replaced(
    old: StringRow, now: StringRow, change: float | None, decay: Own | None, settings: ChangeSettings
) -> bool:
    """Whether pitch, damping and stiffness say together that it is another string."""
    if not old.status == now.status == "heard":
        return False
    far = change is not None and abs(change) > settings.far_cents
    rings = decay is not None and decay.value > max(decay.u95, math.log(settings.damping_ratio))
    stiff = False
    if old.inharmonicity and now.inharmonicity and old.inharmonicity > 0 and now.inharmonicity > 0:
        stiff = abs(math.log(now.inharmonicity / old.inharmonicity)) > math.log(settings.stiffness_ratio)
    return far + rings + stiff >= 2 or (rings and old.dull is True and now.dull is False)
