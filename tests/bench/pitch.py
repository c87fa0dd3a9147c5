"""Pitch against known truth, against what noise allows, against itself, and against general-purpose estimators.

Run `python -m tests.bench.pitch` from the repository; it prints its tables. `--part` runs some parts only, `--notes`
and `--compared` set their size, `--harp-notes` is a folder to keep the concert harp's notes in (fetched from npm once),
`--cases` a folder of recordings with truths. The comparison needs the packages of the optional group `bench`; an
estimator that is not installed is named and left out. Gross: off by more than 50 cents, or no answer; octave: those of
them within 50 cents of another octave. All figures but the shares in cents; the clock is this process's own CPU time.
"""

import argparse
import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from importlib.util import find_spec
from pathlib import Path

import numpy as np

from analyzer import pitch
from analyzer.bands import PluckBands
from analyzer.evidence import weigh
from analyzer.pitch import Pitch
from analyzer.plucks import Pluck, find_onsets
from analyzer.settings import Settings
from tests.bench.pitch_notes import (
    LEAD_S,
    RATE_HZ,
    TARGET_CENTS,
    Held,
    Note,
    cramer_rao_cents,
    mixed_notes,
    paired_notes,
    stationary_notes,
)
from tests.bench.pitch_others import OTHERS, single_figures
from tests.bench.pitch_real import RealNote, concert_notes, recorded_notes

SETTINGS = Settings()
GROSS_CENTS = 50.0
SEED = 20
PACKAGES = {
    "librosa yin": "librosa",
    "librosa pyin": "librosa",
    "Praat autocorrelation": "parselmouth",
    "torchcrepe": "torchcrepe",
    "SwiftF0": "swift_f0",
    "SWIPE' (pysptk)": "pysptk",
    "Harvest (pyworld)": "pyworld",
    "FFT, harmonic product": "numpy",
}
OWN = "harp-survey, string told"
REACH_CENTS = TARGET_CENTS + 30.0
HEARD_S = 0.1
"""Before the onset that the other estimators hear too."""
TOLD = Pluck(onset_s=LEAD_S, end_s=0.0, strength_db=5.0, level_db=-30.0, rise_db=10.0)
"""A pluck that is known: the comparison tells every method where it begins."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """One answer."""

    error_cents: float
    """NaN for none."""
    u95_cents: float
    cpu_s: float
    groups: tuple[str, ...]


def found(note: Note) -> Pluck:
    """The event that the product finds nearest to the note's onset; the onset as told where it finds none."""
    near = [
        p for p in find_onsets(Held(note.samples), RATE_HZ, SETTINGS.plucks).plucks if abs(p.onset_s - LEAD_S) < HEARD_S
    ]
    return near[0] if near else TOLD


def measured(note: Note) -> Pitch | None:
    """With the first partial known to within 30 cents."""
    return _measure(Held(note.samples), RATE_HZ, LEAD_S, note.duration_s, note.seed_hz, note.stiffness, note.channel)


def whole_route(
    samples: Held, rate_hz: int, target_hz: float, duration_s: float, channel: str, event: Pluck = TOLD
) -> Pitch | None:
    """The evidence of one event, and of its candidates within 700 cents of the target the best that can be measured.

    A survey also knows how far the string's neighbours are off, and is told B by its layout.
    """
    event = replace(event, end_s=LEAD_S + duration_s)
    evidence = weigh(samples, rate_hz, event, SETTINGS.evidence)
    near_hz = [hz for hz in evidence.pitches_hz if abs(1200 * np.log2(hz / target_hz)) < REACH_CENTS]  # best first
    if not near_hz:
        return None
    end_s = LEAD_S + duration_s - event.onset_s
    measures = (_measure(samples, rate_hz, event.onset_s, end_s, hz, None, channel) for hz in near_hz)
    return next((m for m in measures if m is not None), None)


def _measure(
    samples: Held,
    rate_hz: int,
    onset_s: float,
    end_s: float,
    seed_hz: float,
    stiffness: tuple[float, float] | None,
    channel: str,
) -> Pitch | None:
    s = SETTINGS.pitch
    bands = PluckBands(samples, rate_hz, onset_s, end_s, s.ring_s + s.guard_s)
    return pitch.measure(bands, seed_hz, end_s, -onset_s, stiffness, s, automatic_gain=channel == "phone")


def _figure(note: Note, answer: Callable[[], Pitch | None]) -> Figure:
    began_s = time.process_time()
    got = answer()
    cpu_s = time.process_time() - began_s
    groups = ("all", note.register, note.channel, "inferred" if got and got.inferred else "direct")
    if got is None:
        return Figure(error_cents=np.nan, u95_cents=0.0, cpu_s=cpu_s, groups=groups)
    error = 1200 * float(np.log2(got.pitch_hz / note.truth.pitch_hz))
    return Figure(error_cents=error, u95_cents=got.cents_u95, cpu_s=cpu_s, groups=groups)


def _table(title: str, figures: list[Figure]) -> None:
    heads = "".join(f"{head:>7}" for head in ("n", "none", "gross", "median", "p95", "max", "u95", "covers"))
    print(f"\n{title}\n{'':10}{heads}")
    for group in ("all", "bass", "middle", "treble", "studio", "highpass", "phone", "inferred"):
        error = np.array([f.error_cents for f in figures if group in f.groups])
        u95 = np.array([f.u95_cents for f in figures if group in f.groups])
        off = np.abs(error[np.isfinite(error)])
        if len(off):
            print(
                f"{group:10}{len(error):7d}{len(error) - len(off):7d}{np.sum(off > GROSS_CENTS):7d}"
                f"{np.median(off):7.3f}{np.percentile(off, 95):7.2f}{off.max():7.2f}{np.median(u95):7.2f}"
                f"{100 * np.mean(np.abs(error) <= u95):5.1f} %"
            )


def accuracy(count: int) -> None:
    notes = list(mixed_notes(count, SEED))
    _table("Synthetic notes, first partial known to 30 cents", [_figure(n, lambda n=n: measured(n)) for n in notes])
    route = [
        _figure(n, lambda n=n: whole_route(Held(n.samples), RATE_HZ, n.target_hz, n.duration_s, n.channel, found(n)))
        for n in notes
    ]
    _table("The same notes by the whole route, target within 700 cents", route)


def bound(count: int) -> None:
    ratios = []
    for note in stationary_notes(count, SEED):
        got = measured(note)
        error = 1200 * float(np.log2(got.pitch_hz / note.truth.pitch_hz)) if got else np.nan
        ratios.append([error / least for least in cramer_rao_cents(note)])
    first, joint = np.sqrt(np.mean(np.square(ratios), axis=0))
    print(f"\nStationary plucks in white noise: root mean square error over the Cramér-Rao bound, {count} notes")
    print(f"of the first partial alone {first:.2f}, of all partials by the law {joint:.2f}")


def takes(count: int) -> None:
    """Two plucks of one string: whether they agree within their intervals, and within what they themselves differ."""
    rows = []
    for a, b in paired_notes(count, SEED):
        first, second = measured(a), measured(b)
        if first is not None and second is not None:
            difference = 1200 * float(np.log2(first.pitch_hz / second.pitch_hz))
            own = 1200 * float(np.log2(a.truth.pitch_hz / b.truth.pitch_hz))
            rows.append((difference, own, float(np.hypot(first.cents_u95, second.cents_u95))))
    difference, own, reach = np.array(rows).T
    replucked = np.hypot(reach, SETTINGS.changes.repluck_cents)
    middle, most = np.percentile(np.abs(own), (50, 95))
    print(
        f"\nTwo takes of one string: {len(rows)} pairs, their own pitches {middle:.2f} (median), {most:.2f} (p95) apart"
    )
    for kept, what in (
        (np.abs(difference - own) <= reach, "within their joint intervals once what the plucks differ is taken off"),
        (np.abs(difference) <= reach, "within their joint intervals as they are"),
        (np.abs(difference) <= replucked, "and with what a second pluck may read, as surveys are compared"),
    ):
        print(f"{100 * np.mean(kept):5.1f} % {what}")


def _compare(title: str, notes: Iterable[RealNote], without: list[str]) -> None:
    held = list(notes)
    audio_s = sum(n.samples.size / n.rate_hz for n in held)
    print(f"\n{title}: {len(held)} notes\n{'':26} gross octave  median    p95  CPU ms per s of audio")
    for name in (OWN, *OTHERS):
        if name in without:
            continue
        if name != OWN and find_spec(PACKAGES[name]) is None:
            print(f"{name:26} not installed: left out")
            continue
        rows = [(_own if name == OWN else _other(name))(n) for n in held]
        errors = np.array([row[0] for row in rows])
        cpu_ms = 1000 * sum(row[1] for row in rows) / audio_s
        print(f"{name:26} {min((_summary(e) for e in errors.T), key=lambda x: x[1])[0]} {cpu_ms:8.1f}", flush=True)


def _summary(error: np.ndarray) -> tuple[str, float]:
    off = np.abs(error)
    gross = ~(off <= GROSS_CENTS)
    octave = gross & (np.abs(error - 1200 * np.rint(error / 1200)) <= GROSS_CENTS)
    fine = off[~gross]
    median, p95 = (np.median(fine), np.percentile(fine, 95)) if len(fine) else (np.nan, np.nan)
    text = f"{100 * gross.mean():4.0f} % {100 * octave.mean():4.0f} % {median:7.2f} {p95:6.2f}"
    return text, float(p95 + GROSS_CENTS * gross.sum())


def _own(note: RealNote) -> tuple[tuple[float, ...], float]:
    held = Held(note.samples)
    began_s = time.process_time()
    got = whole_route(held, note.rate_hz, note.target_hz, note.duration_s, note.channel)
    cpu_s = time.process_time() - began_s
    return (1200 * float(np.log2(got.pitch_hz / note.pitch_hz)) if got else np.nan,), cpu_s


def _other(name: str) -> Callable[[RealNote], tuple[tuple[float, ...], float]]:
    estimator = OTHERS[name]

    def answer(note: RealNote) -> tuple[tuple[float, ...], float]:
        part = note.samples[round((LEAD_S - HEARD_S) * note.rate_hz) :]
        began_s = time.process_time()
        track = estimator(part, note.rate_hz)
        cpu_s = time.process_time() - began_s
        span = (0.05 if note.pitch_hz > 1500 else 0.15, min(1.35, note.duration_s))
        figures = single_figures(track, part, note.rate_hz, HEARD_S, span)
        return tuple(1200 * float(np.log2(hz / note.pitch_hz)) for hz in figures), cpu_s * note.samples.size / part.size

    return answer


def _as_real(note: Note) -> RealNote:
    return RealNote(
        samples=note.samples,
        rate_hz=RATE_HZ,
        duration_s=note.duration_s,
        pitch_hz=note.truth.pitch_hz,
        target_hz=note.target_hz,
        channel=note.channel,
    )


def comparison(count: int, harp_notes: Path | None, cases: Path | None, without: list[str]) -> None:
    for estimator in (OTHERS[name] for name in OTHERS if name not in without):  # the first call compiles and loads
        try:
            estimator(np.sin(np.arange(RATE_HZ) * 0.06), RATE_HZ)
        except ImportError:
            continue
    _compare("Synthetic notes, plain recorder", map(_as_real, mixed_notes(count, SEED, "studio")), without)
    _compare("Synthetic notes, phone", map(_as_real, mixed_notes(count, SEED, "phone")), without)
    if harp_notes:
        _compare("Concert harp's notes", concert_notes(harp_notes, "studio"), without)
        _compare("Concert harp's notes, phone", concert_notes(harp_notes, "phone"), without)
    if cases:
        _compare("Recordings with truths", list(recorded_notes(cases))[::3], without)


def main() -> None:
    parts = ("accuracy", "bound", "takes", "comparison")
    words = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    words.add_argument("--part", action="append", choices=parts)
    words.add_argument("--notes", type=int, default=600)
    words.add_argument("--compared", type=int, default=60)
    words.add_argument("--harp-notes", type=Path)
    words.add_argument("--cases", type=Path)
    words.add_argument("--without", action="append", default=[], choices=OTHERS, help="leave out (slow ones)")
    told = words.parse_args()
    chosen = told.part or parts
    if "accuracy" in chosen:
        accuracy(told.notes)
    if "bound" in chosen:
        bound(told.notes // 4)
    if "takes" in chosen:
        takes(told.notes // 3)
    if "comparison" in chosen:
        comparison(told.compared, told.harp_notes, told.cases, told.without)


if __name__ == "__main__":
    main()
