"""The before-and-after document as one value, from which table, page and JSON are rendered. Composition only."""

import datetime
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from statistics import median

import msgspec

from analyzer.changes import New, Pair, StringChange, became_dull, compare
from analyzer.errors import UnusableInput
from analyzer.lineup import check_fit, day_of, in_order
from analyzer.notes import string_named
from analyzer.paying import Found, Paying, Rates, for_payer, issue_and_return
from analyzer.regulation import Regulation, regulate
from analyzer.settings import ChangeSettings, Settings
from analyzer.survey import Survey
from analyzer.timeline import Course, course, usual_practice
from analyzer.words import amount, counted, listed

SCHEMA = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """What the person said beside the surveys; empty where nothing was."""

    new: tuple[New, ...] = ()
    """Strings said to be new, in any way a string may be named."""
    retuned: tuple[datetime.date, ...] = ()
    regulation: bool = False
    settled: bool = False
    lent: bool = False
    """The first survey is that of issue, the last that of return."""
    instrument: str = ""
    technician: str = ""
    asset: str = ""
    borrower: str = ""
    rates: Rates = Rates()  # noqa: RUF009 - a frozen value


@dataclass(frozen=True, slots=True, kw_only=True)
class SurveyHead:
    """One of the surveys, in short."""

    name: str
    """The folder or file it came from, without its path."""
    date: str
    title: str
    layout: str
    setting: str
    a4_hz: float
    heard_n: int
    not_heard_n: int
    uncertain_n: int
    median_abs_cents: float | None
    dull_n: int
    """By the verdict, as its report says."""
    doubts: tuple[str, ...]
    humidity: str
    temperature: str
    sha256: str
    """Of its survey.json."""
    recordings: dict[str, str]
    """SHA-256 -> name."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """Everything the document says."""

    schema: int
    program_version: str
    made_at: str
    instrument: str
    technician: str
    asset: str
    borrower: str
    surveys: tuple[SurveyHead, ...]
    """In order of time."""
    strings: tuple[str, ...]
    colours: tuple[str, ...]
    """Of the strings: `red`, `black`, `blue` or `plain`."""
    summary: tuple[str, ...]
    pairs: tuple[Pair, ...]
    course: Course | None
    practice: tuple[str, ...]
    """Common practice of tuning, where the surveys say nothing yet."""
    regulation: Regulation | None
    paying: Paying
    """Of the last survey; of the open one where levers or pedals were moved: they make strings shorter, not tighter."""
    found: tuple[Found, ...]
    """Issue against return; empty unless the harp was lent."""
    lent: bool
    remarks: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """A survey with where it came from."""

    survey: Survey
    name: str
    sha256: str


def make_comparison(
    sources: Sequence[Source], said: Said, settings: Settings, *, program_version: str, made_at: str
) -> Comparison:
    """The document. Raises UnusableInput where there are too few surveys or they do not fit together."""
    if len(sources) < 2:
        raise UnusableInput("a comparison takes two surveys or more; name the folders that analyze wrote.")
    if said.regulation and len(sources) != 2:
        raise UnusableInput(f"--regulation takes two surveys, open and engaged (got {len(sources)}).")
    order = range(2) if said.regulation else in_order([s.survey for s in sources])
    ordered = [sources[i] for i in order]
    surveys = [s.survey for s in ordered]
    remarks = list(check_fit(surveys, regulation=said.regulation))
    if list(order) != sorted(order):
        remarks.append("The surveys were put in the order of their dates.")
    if any(s.date for s in surveys) and not all(s.date for s in surveys):
        remarks.append("Some surveys have no date; those keep the place they were given in.")
    _check_retuned(said.retuned, surveys)
    new = _new(said, surveys[-1])
    pairs = compare(surveys, new=new, settings=settings.changes)
    regulation = None
    if said.regulation:
        regulation = regulate(surveys[0], surveys[1], pairs[0], settled=said.settled, settings=settings.regulation)
    way = None if said.regulation else course(surveys, said.retuned, settings.settling)
    return Comparison(
        schema=SCHEMA,
        program_version=program_version,
        made_at=made_at,
        instrument=said.instrument or next((s.title for s in reversed(surveys) if s.title), ""),
        technician=said.technician,
        asset=said.asset,
        borrower=said.borrower,
        surveys=tuple(_head(s) for s in ordered),
        strings=tuple(row.string for row in surveys[-1].strings),
        colours=tuple(s.colour for s in surveys[-1].layout.strings),
        summary=(
            *_one_recording(surveys),
            *(_regulation_summary(regulation) if regulation else _summary(pairs, settings.changes)),
        ),
        pairs=pairs,
        course=way,
        practice=usual_practice(settings.settling) if way is None and not said.regulation else (),
        regulation=regulation,
        paying=for_payer(
            surveys[0 if said.regulation else -1], said.rates, settings.paying, open_wear=_open_wear(pairs)
        ),
        found=(
            issue_and_return(_whole_time(surveys, pairs, new, settings), settings.paying, settings.changes)
            if said.lent
            else ()
        ),
        lent=said.lent,
        remarks=tuple(remarks),
    )


def to_json(comparison: Comparison) -> bytes:
    """As UTF-8 JSON, indented, with a final newline: same comparison, same bytes."""
    return msgspec.json.format(msgspec.json.encode(comparison), indent=1) + b"\n"


def recordings_of(comparison: Comparison) -> Mapping[str, str]:
    """SHA-256 -> name of every recording behind the document."""
    return {sha256: name for head in comparison.surveys for sha256, name in head.recordings.items()}


def _new(said: Said, survey: Survey) -> tuple[New, ...]:
    return tuple(replace(one, string=string_named(one.string, survey.layout)) for one in said.new)


def _head(source: Source) -> SurveyHead:
    survey = source.survey
    states = [row.status for row in survey.strings]
    off = [abs(row.cents) for row in survey.strings if row.cents is not None]
    return SurveyHead(
        name=source.name,
        date=survey.date,
        title=survey.title,
        layout=survey.layout.name,
        setting=survey.tuning.setting,
        a4_hz=survey.tuning.a4_hz,
        heard_n=states.count("heard"),
        not_heard_n=states.count("not heard"),
        uncertain_n=states.count("uncertain"),
        median_abs_cents=median(off) if off else None,
        dull_n=sum(row.verdict == "dull" for row in survey.strings),
        doubts=tuple(doubt.sentence for doubt in survey.doubts),
        humidity=survey.said.get("humidity", ""),
        temperature=survey.said.get("temperature", ""),
        sha256=source.sha256,
        recordings={info.sha256: info.name for info in survey.recordings},
    )


def _check_retuned(days: Sequence[datetime.date], surveys: Sequence[Survey]) -> None:
    """Raises UnusableInput for a day that can tell nothing of how the harp settled between these surveys."""
    known = [day_of(survey) for survey in surveys if survey.date]
    for day in days:
        if not known or not min(known) <= day <= max(known):
            raise UnusableInput(
                f"--retuned {day}: no two surveys lie before and after that day; give a day between two surveys that"
                " have dates, or leave it out."
            )


def _whole_time(surveys: Sequence[Survey], pairs: Sequence[Pair], new: Sequence[New], settings: Settings) -> Pair:
    """The last survey against the first, whatever lies between."""
    if len(pairs) == 1:
        return pairs[0]
    whenever = tuple(replace(one, day=None) for one in new)
    return compare((surveys[0], surveys[-1]), new=whenever, settings=settings.changes)[0]


def _open_wear(pairs: Sequence[Pair]) -> frozenset[str]:
    """Strings judged dull in one of the last two surveys alone, without a change of decay that can be shown."""
    rows = pairs[-1].strings
    return frozenset(r.string for r in rows if r.before_dull is False and r.after_dull and not became_dull(r))


def _one_recording(surveys: Sequence[Survey]) -> list[str]:
    """That the last two surveys were made from one recording, where they were: it cannot have changed meanwhile."""
    old, now = ({info.sha256: info.name for info in survey.recordings} for survey in surveys[-2:])
    return [
        f"Made from the same recording ({now[sha256]}), so that they can show no change: compare the surveys of two"
        " recordings."
        for sha256 in sorted(old.keys() & now.keys())
    ]


_NAMES_N = 6


def _summary(pairs: Sequence[Pair], settings: ChangeSettings) -> list[str]:
    """The last two surveys in a few sentences."""
    last = pairs[-1]
    rows = last.strings
    said = []
    if len(pairs) > 1 and last.before_date and last.after_date:
        said.append(f"Compared here: the last two surveys, of {last.before_date} and {last.after_date}.")
    changed = [row for row in rows if row.changed]
    both = [row for row in rows if row.changed is not None]
    if changed:
        typical = median(abs(row.change_cents or 0.0) for row in changed)
        same_n = len(both) - len(changed)
        said.append(
            f"Of {counted(len(both), 'string')} heard in both, the pitch of {len(changed) if same_n else 'all'}"
            f" changed, typically {_way(changed, settings)} by {amount(typical)}"
            f"{f'; of {same_n} no change can be shown' if same_n else ''}."
        )
    elif both:
        said.append(f"Of {counted(len(both), 'string')} heard in both, no change of pitch can be shown.")
    else:
        said.append("No string was heard for sure in both, so nothing can be compared.")
    for effect, text in (
        ("better", "Better now: {}."),
        ("worse", "Worse now: {}."),
        ("gone", "Heard before and not now: {}; cause not determined."),
        ("cannot be said", "Cannot be compared: {}."),
    ):
        if names := [row.string for row in rows if row.effect == effect]:
            said.append(text.format(listed(names, _NAMES_N)))
    stated = [row.string for row in rows if row.new_string == "stated"]
    possible = [row.string for row in rows if row.new_string == "possible"]
    replaced = [row.string for row in rows if row.perhaps_replaced]
    if stated:
        said.append(f"New strings, as stated: {listed(stated, _NAMES_N)}.")
    if possible:
        said.append(f"Heard now and not before, so perhaps new, or only skipped before: {listed(possible, _NAMES_N)}.")
    if replaced:
        said.append(f"Sounding like other strings than before, perhaps replaced: {listed(replaced, _NAMES_N)}.")
    return said


def _way(changed: Sequence[StringChange], settings: ChangeSettings) -> str:
    """Where most of the strings that moved went."""
    up_share = sum((row.change_cents or 0.0) > 0 for row in changed) / len(changed)
    if up_share >= settings.one_way_share:
        return "up"
    return "down" if 1 - up_share >= settings.one_way_share else "up or down"


def _regulation_summary(regulation: Regulation) -> list[str]:
    said = [regulation.why_not] if regulation.why_not else []
    for word, text in (
        ("too much", "Raised too much: {}."),
        ("too little", "Raised too little: {}."),
        ("not raised", "Not raised: {}."),
        ("as it should", "Raised as they should be: {}."),
    ):
        names = [row.string for row in regulation.strings if row.raising == word]
        if names:
            said.append(text.format(listed(names, _NAMES_N)))
    if buzzing := [row.string for row in regulation.strings if row.buzzes]:
        said.append(f"Sounding worse when engaged: {listed(buzzing, _NAMES_N)}.")
    unsure = [row.string for row in regulation.strings if row.raising == "not judged"]
    if unsure and regulation.judged:
        said.append(f"Not to be judged from these recordings: {listed(unsure, _NAMES_N)}.")
    return said or ["No lever or pedal was moved between the two surveys."]
