"""A comparison as one HTML page: first line, what changed, the drawing, settling, costs, every string, hashes."""

from typing import NamedTuple

from analyzer import compare_words, paying_words, words
from analyzer.change_tables import changes_csv, regulation_csv
from analyzer.changes import Pair
from analyzer.comparison import Comparison
from analyzer.report.page import csv_rows, fill
from analyzer.settings import ReportSettings
from analyzer.speech import Spoken, say
from analyzer.timeline import Course

SETTINGS = ReportSettings()
BOX = (1000.0, 300.0)
_LEFT, _RIGHT, _TOP, _BOTTOM = 56.0, 12.0, 12.0, 26.0
_SPACINGS_CENTS = (20, 50, 100, 200)
_COLOURS = {"red": "red", "black": "ink", "blue": "blue", "plain": "gut"}


class Strand(NamedTuple):
    """One string of the drawing: places in BOX, None where there is no figure."""

    letter: str
    colour: str
    x: float
    before: float | None
    after: float | None
    before_bar: tuple[float, float] | None
    """Top and bottom of its 95 % interval, as far as the scale reaches."""
    after_bar: tuple[float, float] | None


class Drawing(NamedTuple):
    """Where every string stood before and after, against its note."""

    strands: list[Strand]
    ticks: list[tuple[float, str]]
    zero: float
    left_out: list[str]
    """Strings off the scale."""


class Curve(NamedTuple):
    """One string's way over the days, as the points of a line."""

    points: str
    slipping: bool
    name: str
    """The string's, where it is written at the curve's end: of what slips, and of what drifted furthest."""
    end_y: float


class Drift(NamedTuple):
    """How every string drifted."""

    curves: list[Curve]
    ticks: list[tuple[float, str]]
    """Where a line of the scale lies, and its cents."""


def render(comparison: Comparison) -> str:
    """The page."""
    last = comparison.pairs[-1]
    return fill(
        "compare.html",
        styles=("style.css", "pages.css", "compare.css"),
        texts=compare_words,
        title=words.shorten(comparison.instrument, SETTINGS.title_n) or say(words.NO_TITLE),
        kind=say(compare_words.KIND_REGULATION if comparison.regulation else compare_words.KIND),
        date=compare_words.days(comparison),
        version=comparison.program_version,
        made_at=comparison.made_at,
        c=comparison,
        named=lambda text: compare_words.named(comparison, text),
        pay=Spoken(paying_words),
        first=paying_words.judged(comparison.paying),
        drawing=drawing(last, comparison.colours),
        drift=drift(comparison.course) if comparison.course and comparison.course.settling else None,
        box=BOX,
        pair_rows=_pair_rows(comparison),
        regulation_rows=csv_rows(regulation_csv(comparison.regulation.strings)) if comparison.regulation else [],
        alt=_alt(last),
    )


def _pair_rows(comparison: Comparison) -> list[list[str]]:
    """`changes.csv`, its heading and rows for each pair."""
    head, *rows = csv_rows(changes_csv(comparison))
    parts, at = [], 0
    for pair in comparison.pairs:
        parts.append([head, *rows[at : at + len(pair.strings)]])
        at += len(pair.strings)
    return parts


def drawing(pair: Pair, colours: tuple[str, ...]) -> Drawing:
    """The strings as upright lines, each with its place before (open) and after (full)."""
    values = [v for row in pair.strings for v in (row.before_cents, row.after_cents) if v is not None]
    near = [v for v in values if abs(v) <= SETTINGS.scale_cents] or [0.0]
    low = min(*near, -SETTINGS.least_span_cents) - 10.0
    high = max(*near, SETTINGS.least_span_cents) + 10.0
    width, height = BOX

    def y(cents: float | None) -> float | None:
        if cents is None or not low <= cents <= high:
            return None
        return _TOP + (high - cents) / (high - low) * (height - _TOP - _BOTTOM)

    def bar(cents: float | None, u95: float | None) -> tuple[float, float] | None:
        if cents is None or u95 is None or y(cents) is None:
            return None
        return y(min(cents + u95, high)) or 0.0, y(max(cents - u95, low)) or 0.0

    step = (width - _LEFT - _RIGHT) / max(len(pair.strings) - 1, 1)
    strands = [
        Strand(
            letter=row.string[0],
            colour=_COLOURS.get(colour, "gut"),
            x=_LEFT + i * step,
            before=y(row.before_cents),
            after=y(row.after_cents),
            before_bar=bar(row.before_cents, row.before_u95),
            after_bar=bar(row.after_cents, row.after_u95),
        )
        for i, (row, colour) in enumerate(zip(pair.strings, colours, strict=True))
    ]
    spacing = _spacing(high - low, _SPACINGS_CENTS)
    ticks = [
        (place, words.number(cents, 0))
        for cents in range(-20 * spacing, 20 * spacing + 1, spacing)
        if (place := y(cents)) is not None
    ]
    off = [
        row.string
        for row, strand in zip(pair.strings, strands, strict=True)
        if (row.before_cents is not None and strand.before is None)
        or (row.after_cents is not None and strand.after is None)
    ]
    return Drawing(strands=strands, ticks=ticks, zero=y(0.0) or 0.0, left_out=off)


def _alt(pair: Pair) -> str:
    """What the drawing shows in this case."""
    both = [r for r in pair.strings if r.before_cents is not None and r.after_cents is not None]
    nearer = sum(
        bool(r.changed) and abs(r.before_cents or 0.0) - abs(r.after_cents or 0.0) > (r.change_u95 or 0.0) for r in both
    )
    return compare_words.places_alt(len(both), nearer)


def drift(course: Course) -> Drift:
    """Every string's fitted way from the first survey on, in BOX, with a scale."""
    settling = course.settling
    assert settling is not None
    width, height = BOX
    rows = [[v for v in row if v == v] for row in settling.fitted_cents]
    falls = [v - row[0] for row in rows if row for v in row]
    low, high = min(falls, default=-1.0) - 1.0, max(falls, default=1.0) + 1.0

    def y(cents: float) -> float:
        return _TOP + (high - cents) / (high - low) * (height - _TOP - _BOTTOM)

    ends = [abs(row[-1] - row[0]) if row else 0.0 for row in rows]
    furthest = ends.index(max(ends)) if ends else None
    curves = []
    for i, (string, row) in enumerate(zip(settling.strings, settling.fitted_cents, strict=True)):
        known = [(j, v) for j, v in enumerate(row) if v == v]
        if len(known) < 2:
            continue
        start, end = known[0][1], known[-1][1]
        last = max(course.days[-1], 1.0)
        points = " ".join(
            f"{_LEFT + course.days[j] / last * (width - _LEFT - _RIGHT):.1f},{y(v - start):.1f}" for j, v in known
        )
        name = string.string if string.slipping or i == furthest else ""
        curves.append(Curve(points=points, slipping=string.slipping, name=name, end_y=y(end - start)))
    spacing = _spacing(high - low, (1, 2, 5, *_SPACINGS_CENTS))
    places = range(-spacing * int(-low // spacing), int(high // spacing) * spacing + 1, spacing)
    return Drift(curves=curves, ticks=[(y(cents), words.number(cents, 0)) for cents in places])


def _spacing(span_cents: float, spacings: tuple[int, ...]) -> int:
    """Between the lines of a scale, so that there are at most eight."""
    return next((s for s in spacings if span_cents / s <= 8), 500)
