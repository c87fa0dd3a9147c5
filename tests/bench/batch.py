"""How fast a batch is: `python -m tests.bench.batch [--count 500] [--workers 1 2] [--rounds 1] [--dask] [--keep DIR]`.

Synthesises the recordings once (100 s each: a few harps, every file with noise of its own so that no two are alike),
then surveys them all with summary reports by one worker and by two, and through a Dask scheduler with two local
workers started here. Prints real time surveyed per second of the clock, and what more workers gain.

The clock counts, start and imports included, and other programs' load counts with it: it is printed before each run. On
a busy machine nothing here says much. With few recordings the start weighs more: `--count 500` is the figure to quote.
With more rounds, the runs alternate and each kind's fastest counts. With --keep the recordings stay in that folder, and
are taken from there the next time.
"""

import argparse
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path

import numpy as np
import soundfile

from tests.synth_harp import HarpSpec, harp_recording

ROOT = Path(__file__).parents[2]
HARPS = 5


def synthesise(folder: Path, count: int) -> float:
    """The recordings; returns their length in all, seconds."""
    length_s = 0.0
    takes = []
    for seed in range(min(HARPS, count)):
        spec = HarpSpec(missing=("G5",), gap_s=(2.6, 3.2), slack_cents=-40.0 * seed)
        takes.append(harp_recording(spec, np.random.default_rng(seed)))
    for k in range(count):
        take = takes[k % len(takes)]
        noise = 1e-4 * np.random.default_rng(1000 + k).standard_normal(len(take.samples))
        path = folder / f"harp {k:03d}.flac"
        if not path.exists():
            soundfile.write(path, take.samples + noise, take.rate_hz)
        length_s += len(take.samples) / take.rate_hz
    return length_s


def surveyed_s(folder: Path, out: Path, *words: str) -> float:
    """Seconds of the clock that a batch takes."""
    command = [sys.executable, "-m", "analyzer", "batch", str(folder), "--out", str(out)]
    options = ["--layout", "lever-34", "--tuning", "E-flat", "--levers", "off", "--reports", "summary"]
    if hasattr(os, "getloadavg"):
        sys.stdout.write(f"(load before: {os.getloadavg()[0]:.1f} of {os.cpu_count()} cores) ")
        sys.stdout.flush()
    start_s = time.monotonic()
    subprocess.run([*command, *options, *words], cwd=ROOT, check=True, stderr=subprocess.DEVNULL)
    return time.monotonic() - start_s


def through_dask_s(folder: Path, out: Path, scratch: Path) -> float:
    """The same through a scheduler and two workers in processes of their own."""
    from distributed import LocalCluster

    with LocalCluster(
        n_workers=2, threads_per_worker=1, dashboard_address=None, local_directory=str(scratch)
    ) as cluster:
        return surveyed_s(folder, out, "--dask", cluster.scheduler_address)


def main() -> None:
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("--count", type=int, default=500)
    words.add_argument("--workers", type=int, nargs="+", default=[1, 2])
    words.add_argument("--rounds", type=int, default=1)
    words.add_argument("--dask", action="store_true")
    words.add_argument("--keep", type=Path, metavar="DIR")
    given = words.parse_args()
    os.environ["PYTHONPATH"] = str(ROOT)
    with tempfile.TemporaryDirectory() as name:
        home = Path(name)
        sounds = (given.keep or home) / f"harps-{given.count}"
        sounds.mkdir(parents=True, exist_ok=True)
        length_s = synthesise(sounds, given.count)
        sys.stdout.write(f"{given.count} recordings, {length_s:.0f} s in all\n")
        fastest_s: dict[str, float] = {}

        def timed(what: str, cores: int, run: Callable[[], float]) -> None:
            spent_s = run()
            fastest_s[what] = min(spent_s, fastest_s.get(what, spent_s))
            real_time = length_s / spent_s
            sys.stdout.write(f"{what}: {spent_s:.0f} s, {real_time / cores:.0f} times real time a core\n")
            sys.stdout.flush()

        for k in range(given.rounds):
            for n in given.workers:
                out, count = home / f"out-{n}-{k}", ("--workers", str(n))
                timed(f"{n} workers", n, partial(surveyed_s, sounds, out, *count))
            if given.dask:
                out = home / f"out-dask-{k}"
                timed("2 workers of Dask", 2, partial(through_dask_s, sounds, out, home / "scratch"))
        first_s = fastest_s[f"{given.workers[0]} workers"]
        for what, spent_s in fastest_s.items():
            sys.stdout.write(f"{what}: {first_s / spent_s:.2f} times as fast as {given.workers[0]}\n")
        again_s = surveyed_s(sounds, home / f"out-{given.workers[-1]}-0", "--workers", str(given.workers[-1]))
        sys.stdout.write(f"once more, with nothing to do: {again_s:.1f} s\n")


if __name__ == "__main__":
    main()
