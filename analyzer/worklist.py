"""The rows of a plan: each turn of a pin as a person works it, with what to mind."""

from collections.abc import Sequence
from dataclasses import dataclass

from analyzer import questions as asking
from analyzer.answers import Answers
from analyzer.layout import Material
from analyzer.load import HarpLoad, StringLoad, share_of_full
from analyzer.pass_limits import Kind, Standing, Turn, room_cents
from analyzer.settings import PlanSettings
from analyzer.survey import StringRow, Survey

_SET_RIGHT = (
    "Then go through this table again from the top, up to three times: what stands more than a cent below its figure"
    " under “At the end” is brought back to it."
)
_SET_RIGHT_LAST = (
    "Then rest for an hour, and go through the whole harp again from the longest string, up to three times: bring to"
    " its note what stands more than half a cent below it."
)

WIRES: tuple[Material, ...] = ("wire", "steel", "brass")


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanRow:
    """One turn of a pin."""

    pass_n: int
    order: int
    """Within the pass, from 1."""
    string: str
    note: str
    kind: Kind
    from_cents: float | None
    """None for a string that is to be fitted, or of which nobody knows where it stands."""
    to_cents: float
    to_hz: float
    end_cents: float | None
    """Where the pass is to leave the string: at its end it is set right to this; None for what is let down."""
    most_cents: float | None
    """Most that this turn may raise the string from wherever it is found; None for what is let down or newly fitted."""
    tension_n_before: float | None
    tension_n_after: float | None
    remark: str


def work_rows(
    turns: Sequence[Sequence[Turn]],
    strings: Sequence[Standing],
    survey: Survey,
    answers: Answers,
    load: HarpLoad,
    left: Sequence[int],
    settings: PlanSettings,
) -> tuple[tuple[PlanRow, ...], ...]:
    """The rows of each pass."""
    passes = []
    for n, one in enumerate(turns, start=1):
        rows = []
        let_down = {turn.place for turn in one if turn.kind == "lower"}
        for order, turn in enumerate(one, start=1):
            row, carried = survey.strings[turn.place], load.strings[turn.place]
            remarks = _remarks(turn, row, carried, survey, answers, n, settings)
            if turn.kind == "keep" and turn.place in let_down:
                remarks = ["Let down above: set right at the end if it has fallen."]
            if n == 1 and turn.place in left:
                remarks.append("Leave it then as it falls: it measures how the harp gives way.")
            full_n = carried.full_tension_n
            rows.append(
                PlanRow(
                    pass_n=n,
                    order=order,
                    string=row.string,
                    note=row.note,
                    kind=turn.kind,
                    from_cents=turn.from_cents,
                    to_cents=turn.to_cents,
                    to_hz=row.target_hz * 2 ** (turn.to_cents / 1200),
                    end_cents=turn.end_cents,
                    most_cents=_most_cents(turn, strings[turn.place]),
                    tension_n_before=_tension_n(full_n, turn.from_cents),
                    tension_n_after=_tension_n(full_n, turn.to_cents),
                    remark=" ".join(remarks),
                )
            )
        passes.append(tuple(rows))
    return tuple(passes)


def _most_cents(turn: Turn, own: Standing) -> float | None:
    """Both limits of the string as cents. Found further down, it gains less tension by as many cents."""
    if turn.kind != "raise" or turn.from_cents is None:
        return None
    return room_cents(own, turn.from_cents)


def _tension_n(full_n: float | None, level: float | None) -> float | None:
    return None if full_n is None or level is None else full_n * share_of_full(level)


def _remarks(
    turn: Turn, row: StringRow, carried: StringLoad, survey: Survey, answers: Answers, n: int, settings: PlanSettings
) -> list[str]:
    """What to mind at this turn."""
    remarks = []
    if turn.kind == "keep":
        return ["Not turned yet: set right at the end if it has fallen."]
    if turn.kind == "lower":
        return ["Too high: let it down before anything is raised."]
    if turn.kind == "install":
        remarks.append(_install_remark(row, survey, answers))
    elif row.string in answers.fitted and n == 1:
        remarks.append(f"New since {answers.fitted[row.string]}: it goes on stretching.")
    elif n == 1 and an_octave_low(row, settings):
        remarks.append("An octave low: check its octave against the same note above and below before you turn.")
    if survey.layout.strings[turn.place].material in WIRES and n == 1:
        remarks.append("Wire: small turns.")
    if carried.near_breaking:
        remarks.append("Close to breaking at pitch: slowly, and stop if it ticks or frays.")
    return remarks


def _install_remark(row: StringRow, survey: Survey, answers: Answers) -> str:
    level = "bring it level with its neighbours in small pulls, some minutes apart"
    if row.string in answers.fitted:
        return f"New since {answers.fitted[row.string]}: {level}."
    if row.string in answers.replaced:
        return f"Take the old string off, fit a new one, {level}."
    if row.status != "not heard":
        return f"Where it stands is not known: {level}."
    if row.string in strings_to_look_at(survey, answers):
        return f"Not heard: look whether it is there. If not, fit a new one; either way {level}."
    return f"Fit a new string; {level}."


def closing(n: int, checkpoint_n: int, passes_n: int) -> str:
    """What ends pass `n` of so many, once down its table."""
    return f"{_SET_RIGHT_LAST if n == passes_n else _SET_RIGHT} {_after_pass(n, checkpoint_n, passes_n)}"


def _after_pass(n: int, checkpoint_n: int, passes_n: int) -> str:
    if n == checkpoint_n:
        return "Then stop, let it rest, look at soundboard and joints, record again and plan from that."
    return "Then let it rest." if n < passes_n else "Then let it rest and record it once more."


def stragglers(turns: Sequence[Sequence[Turn]], settings: PlanSettings) -> tuple[int, tuple[int, ...]] | None:
    """The pass from which on only a few strings are still turned, and their places; None where there is none."""
    for n in range(1, len(turns)):
        places = {t.place for one in turns[n:] for t in one if t.kind != "keep"}
        if len(places) <= settings.stragglers_n:
            return n + 1, tuple(sorted(places))
    return None


def strings_to_look_at(survey: Survey, answers: Answers) -> tuple[str, ...]:
    """Strings not heard that nobody has looked at."""
    gone = asking.absent(survey, answers)
    return tuple(
        r.string
        for r in survey.strings
        if r.status == "not heard" and r.string not in (*gone, *answers.fitted, *answers.replaced)
    )


def an_octave_low(row: StringRow, settings: PlanSettings) -> bool:
    """So low that its octave has to be checked."""
    return row.cents is not None and row.cents <= -settings.doubt_low_cents
