"""The tables of `tests.bench.matching`, in Markdown."""

from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np

SLACK_CENTS = (0.0, -100.0, -200.0, -400.0, -700.0)
SCATTER_CENTS = (0.0, 20.0, 40.0, 60.0)
BINS = (0.0, 0.3, 0.5, 0.7, 0.9, 0.97, 0.995, 1.0001)
FACTORS = ("layout", "slack_cents", "scatter_cents", "missing", "octave_low", "repeats", "slips", "noise_db", "phone")
READINGS = ("told", "told bound", "untold", "untold bound")
METHODS = (*READINGS, "told count", "untold count", "nearest")


@dataclass
class Outcome:
    """One harp, all methods."""

    grid: dict[str, float | int | str | bool]
    late: bool
    """Some string was passed over and plucked late."""
    counts: dict[str, Counter[str]] = field(default_factory=lambda: defaultdict(Counter))
    kinds: dict[str, Counter[str]] = field(default_factory=lambda: defaultdict(Counter))
    """Events by method and kind …"""
    wrong: dict[str, Counter[str]] = field(default_factory=lambda: defaultdict(Counter))
    """… and those named wrong."""
    reliability: dict[str, list[tuple[float, bool]]] = field(default_factory=lambda: defaultdict(list))
    seconds: list[tuple[int, float]] = field(default_factory=list)


def table(outcomes: list[Outcome]) -> str:
    """Markdown of everything."""
    parts = [methods_table(outcomes), _by_kind(outcomes), _some(outcomes)]
    parts += [_cells(outcomes, m) for m in ("told", "told bound", "untold", "untold bound", "nearest")]
    parts += [_by_factor(outcomes), _reliability(outcomes), _times(outcomes)]
    return "\n".join(parts)


def _sum(outcomes: Iterable[Outcome], method: str) -> Counter[str]:
    return sum((o.counts[method] for o in outcomes), Counter())


def _share(counts: Counter[str], what: str = "right") -> str:
    return f"{100 * counts[what] / counts['plucks']:.2f}" if counts["plucks"] else ""


def methods_table(outcomes: list[Outcome]) -> str:
    rows = [
        "| method | right % | right or listed % | listed on average | sure but wrong % | spurious | harps all right |"
    ]
    rows.append("| --- |" + " ---: |" * 6)
    for method in METHODS:
        c = _sum(outcomes, method)
        rows.append(
            f"| {method} | {_share(c)} | {_share(c, 'covered')} | {c['listed'] / max(c['plucks'], 1):.2f} |"
            f" {_share(c, 'sure but wrong')} | {c['spurious']} of {c['others']} |"
            f" {c['harps all right']} of {c['harps']} |"
        )
    return f"{_sum(outcomes, 'told')['plucks']} plucks\n\n" + "\n".join(rows) + "\n"


def _by_kind(outcomes: list[Outcome]) -> str:
    """How often each kind of pluck is named wrong, by scatter, and its share of all errors."""
    rows = [f"Named wrong %, told, by kind of pluck and scatter; shares of all errors of {', '.join(READINGS)}\n"]
    rows.append("| | plucks | " + " | ".join(f"{s:.0f}" for s in SCATTER_CENTS) + " | all | bound | shares |")
    rows.append("| --- |" + " ---: |" * (len(SCATTER_CENTS) + 4))

    def added(what: Iterable[Counter[str]]) -> Counter[str]:
        return sum(what, Counter())

    all_of, wrong = ({m: added(getattr(o, what)[m] for o in outcomes) for m in READINGS} for what in ("kinds", "wrong"))
    for kind in sorted(all_of["told"], key=lambda k: -wrong["told"][k]):
        shares = []
        for s in SCATTER_CENTS:
            here = [o for o in outcomes if o.grid["scatter_cents"] == s]
            n, w = (added(getattr(o, what)["told"] for o in here)[kind] for what in ("kinds", "wrong"))
            shares.append(f"{100 * w / n:.1f}" if n else "")
        shares += [f"{100 * wrong[m][kind] / max(all_of[m][kind], 1):.2f}" for m in ("told", "told bound")]
        shares.append(", ".join(f"{100 * wrong[m][kind] / max(wrong[m].total(), 1):.0f}" for m in READINGS))
        rows.append(f"| {kind} | {all_of['told'][kind]} | " + " | ".join(shares) + " |")
    return "\n".join(rows) + "\n"


def _some(outcomes: list[Outcome]) -> str:
    """Named right on the harps without late plucks, and of those the less wild ones."""
    rows = ["| named right % | plucks | " + " | ".join(READINGS) + " |", "| --- |" + " ---: |" * (1 + len(READINGS))]
    prompt = [o for o in outcomes if not o.late]
    for name, some in (
        ("recordings without late plucks", prompt),
        ("of these, scatter up to 40 cents", [o for o in prompt if float(o.grid["scatter_cents"]) <= 40]),
        ("recordings with late plucks", [o for o in outcomes if o.late]),
    ):
        counts = [_sum(some, m) for m in READINGS]
        rows.append(f"| {name} | {counts[0]['plucks']} | " + " | ".join(_share(c) for c in counts) + " |")
    return "\n".join(rows) + "\n"


def _cells(outcomes: list[Outcome], method: str) -> str:
    rows = [f"Named right %, {method}: slackness × scatter, cents\n"]
    rows.append("| | " + " | ".join(f"{s:.0f}" for s in SCATTER_CENTS) + " |\n| --- |" + " ---: |" * len(SCATTER_CENTS))
    for slack in SLACK_CENTS:
        here = [
            _sum((o for o in outcomes if (o.grid["slack_cents"], o.grid["scatter_cents"]) == (slack, s)), method)
            for s in SCATTER_CENTS
        ]
        rows.append(f"| {slack:.0f} | " + " | ".join(_share(c) for c in here) + " |")
    return "\n".join(rows) + "\n"


def _by_factor(outcomes: list[Outcome]) -> str:
    rows = [
        "| | plucks | told | told bound | untold | untold bound | told count | nearest |",
        "| --- |" + " ---: |" * 7,
    ]
    for factor in FACTORS:
        for value in sorted({o.grid[factor] for o in outcomes}, key=lambda v: (str(type(v)), v)):
            some = [o for o in outcomes if o.grid[factor] == value]
            counts = {m: _sum(some, m) for m in METHODS}
            rows.append(
                f"| {factor} {value} | {counts['told']['plucks']} | "
                + " | ".join(
                    _share(counts[m]) for m in ("told", "told bound", "untold", "untold bound", "told count", "nearest")
                )
                + " |"
            )
    return "\n".join(rows) + "\n"


def _reliability(outcomes: list[Outcome]) -> str:
    rows = ["| method | confidence | events | mean confidence % | right % |", "| --- | --- | ---: | ---: | ---: |"]
    for method in READINGS:
        pairs = np.array([p for o in outcomes for p in o.reliability[method]], dtype=float)
        for low, high in pairwise(BINS):
            some = pairs[(pairs[:, 0] >= low) & (pairs[:, 0] < high)]
            if len(some):
                mean, right = 100 * some.mean(axis=0)
                rows.append(f"| {method} | {low:g} to {min(high, 1):g} | {len(some)} | {mean:.1f} | {right:.1f} |")
    return "\n".join(rows) + "\n"


def _times(outcomes: list[Outcome]) -> str:
    longest = max(n for o in outcomes for n, _ in o.seconds)
    took = np.array([s for o in outcomes for n, s in o.seconds if n == longest])
    return f"Matching, {longest} strings: median {np.median(took):.3f} s, 95 % {np.percentile(took, 95):.3f} s of CPU\n"
