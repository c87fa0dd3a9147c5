"""A collection as tables: `instruments.csv`, `failures.csv`, `buy.csv`, from one value that the page is made of too.

Conventions as in `tables`: the contract's columns come first, in its order; ours follow. `dull` counts the column of
that name in `strings.csv`, `verdict_dull` the strings that are called so, as the page and `buy.csv` do. Instruments
come in the order of work, what to buy by string, failures as they were listed.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from analyzer.collection import INSTRUMENTS, Outcome
from analyzer.intake import Found, Item
from analyzer.tables import as_text, csv_text, fixed
from analyzer.triage import NEEDS, Buy, Line

INSTRUMENT_COLUMNS = (
    "instrument date layout heard not_heard uncertain median_abs_cents worst_cents dull false_strings passes load_share"
    " purchase_total recording_quality report need why confidence tuning place humidity note recordings"
    " verdict_dull"
).split()
FAILURE_COLUMNS = ("recording", "reason", "instrument")
BUY_COLUMNS = "string material stringing count missing false dull spare price total instruments".split()


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One instrument."""

    item: Item
    line: Line
    report: str
    """Where its report lies, from the collection's folder; empty without one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Failure:
    """One recording that gave nothing."""

    recording: str
    reason: str
    instrument: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Total:
    """One string to buy, over all harps of one kind of stringing."""

    string: str
    material: str
    stringing: str
    reasons: dict[str, int]
    """Reason -> how many."""
    price: float | None
    """Of one; None where it is not known or not the same for all."""
    total: float | None
    instruments: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Collection:
    """All that the tables and the page show."""

    rows: tuple[Row, ...]
    """What needs work first comes first."""
    failures: tuple[Failure, ...]
    buy: tuple[Total, ...]
    priced: bool
    """Whether there was a price list."""


def collect(found: Found, outcomes: Mapping[str, Outcome], *, priced: bool) -> Collection:
    """The collection from the outcomes of its items."""
    rows: list[Row] = []
    failures = [Failure(recording=name, reason=reason, instrument="") for name, reason in found.refused]
    for item in found.items:
        outcome = outcomes.get(item.key)
        record = outcome.record if outcome else None
        if record is None:
            reason = "Another batch is at work on it; run this command again."
            failures += [Failure(recording=name, reason=reason, instrument=item.instrument) for name in item.names]
            continue
        failures += [Failure(recording=n, reason=reason, instrument=item.instrument) for n, reason in record.failures]
        if record.line is not None:
            report = f"{INSTRUMENTS}/{item.key}/report.html" if "report.html" in record.files else ""
            rows.append(Row(item=item, line=record.line, report=report))
    rows.sort(key=_work_order)
    return Collection(rows=tuple(rows), failures=tuple(failures), buy=_totals(rows), priced=priced)


def _work_order(row: Row) -> tuple[int, float, float, str, str]:
    line = row.line
    return NEEDS.index(line.need), -line.weight, -(line.median_abs_cents or 0.0), row.item.instrument, row.item.date


def instruments_csv(collection: Collection) -> str:
    """`instruments.csv`: one row for every instrument, in the order of work."""
    return _csv(INSTRUMENT_COLUMNS, [_cells(row) for row in collection.rows])


def failures_csv(collection: Collection) -> str:
    """`failures.csv`: one row for every recording that gave nothing."""
    return _csv(
        FAILURE_COLUMNS, [[as_text(f.recording), as_text(f.reason), as_text(f.instrument)] for f in collection.failures]
    )


def buy_csv(collection: Collection) -> str:
    """`buy.csv`: how many of which string, across all harps."""
    return _csv(
        BUY_COLUMNS,
        [
            [
                as_text(t.string),
                t.material,
                t.stringing,
                str(sum(t.reasons.values())),
                *(str(t.reasons.get(reason, 0)) for reason in ("missing", "false", "dull", "spare")),
                fixed(t.price, 2),
                fixed(t.total, 2),
                as_text("; ".join(t.instruments)),
            ]
            for t in collection.buy
        ],
    )


def _cells(row: Row) -> list[str]:
    line, item = row.line, row.item
    return [
        as_text(item.instrument),
        item.date,
        as_text(line.layout),
        str(line.heard_n),
        str(line.not_heard_n),
        str(line.uncertain_n),
        fixed(line.median_abs_cents, 2),
        fixed(line.worst_cents, 2),
        str(line.dying_soon_n),
        str(line.false_n),
        "" if line.passes_n is None else str(line.passes_n),
        fixed(line.load_share, 3),
        fixed(line.purchase_total, 2),
        line.recording_quality,
        row.report,
        line.need,
        as_text(line.why),
        fixed(line.confidence, 3),
        as_text(item.tuning.setting),
        as_text(item.place),
        as_text(item.humidity),
        as_text(item.note),
        as_text("; ".join(item.names)),
        str(line.dull_n),
    ]


def _totals(rows: Sequence[Row]) -> tuple[Total, ...]:
    """Purchases of all harps together, highest string first as on a string maker's list."""
    groups: dict[tuple[str, str, str], list[tuple[Buy, str]]] = defaultdict(list)
    for row in rows:
        for buy in row.line.purchases:
            groups[buy.string, buy.material, buy.stringing].append((buy, row.item.instrument))
    totals = []
    for (string, material, stringing), group in groups.items():
        prices = [buy.price for buy, _ in group]
        known = [price for price in prices if price is not None]
        reasons: dict[str, int] = defaultdict(int)
        for buy, _ in group:
            reasons[buy.reason] += 1
        totals.append(
            Total(
                string=string,
                material=material,
                stringing=stringing,
                reasons=dict(reasons),
                price=known[0] if known == prices and len(set(known)) == 1 else None,
                total=round(sum(known), 2) if known else None,
                instruments=tuple(dict.fromkeys(name for _, name in group)),
            )
        )
    return tuple(sorted(totals, key=lambda t: (t.stringing, *_height(t.string), t.material)))


def _height(string: str) -> tuple[int, int]:
    """Sorts the highest string first."""
    return -int(string[1:]), -"CDEFGAB".index(string[0])


def _csv(columns: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    return csv_text(columns, (dict(zip(columns, row, strict=True)) for row in rows))
