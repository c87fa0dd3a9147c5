"""How fast one recording is surveyed: `python -m tests.bench.speed [--hour]`.

Measures, each in a process of its own with one thread: the imports (-X importtime) of what a command loads; `analyze`
of a 100 s recording, everything included, against real time; the analysis alone (the median of five, once everything is
loaded); peak memory; and, with --hour, what each further second costs up to an hour of the same harps plucked over and
over, and of one harp and then a quiet room.
Times are those of the processor (user and system), so that a busy machine counts little.
"""

import argparse
import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
import soundfile

from tests.synth_harp import HarpSpec, harp_recording

ONE_THREAD = {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1", "MKL_NUM_THREADS": "1"}
IMPORTS = (
    "analyzer.cli",
    "analyzer.pipeline",
    "analyzer.figures",
    "analyzer.report",
    "analyzer.plan",
    "analyzer.worker",
)
WATCHED = ("librosa", "pandas", "matplotlib", "scipy.signal", "scipy.stats", "numba", "sklearn", "joblib", "rich")
ALONE = """
import json, sys, time
from analyzer.cli import parser
from analyzer.cli.analyze import requested
from analyzer.pipeline import analyze
from analyzer.settings import Settings
request = requested(parser().parse_args(sys.argv[1:]))
analyze(request, Settings())
spent_s = []
for _ in range(5):
    start_s = time.process_time()
    analyze(request, Settings())
    spent_s.append(time.process_time() - start_s)
print(json.dumps(sorted(spent_s)[2]))
"""


def measured(command: list[str], root: Path) -> tuple[float, float]:
    """Seconds of the processor and peak megabytes of a command."""
    code = (
        "import json, resource, subprocess, sys\n"
        "subprocess.run(sys.argv[1:], check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)\n"
        "r = resource.getrusage(resource.RUSAGE_CHILDREN)\n"
        "print(json.dumps([r.ru_utime + r.ru_stime, r.ru_maxrss / 1024]))"
    )
    run = subprocess.run(
        [sys.executable, "-c", code, *command],
        capture_output=True,
        check=True,
        text=True,
        cwd=root,
        env={**os.environ, **ONE_THREAD},
    )
    seconds, mb = json.loads(run.stdout)
    return seconds, mb


def imports(root: Path) -> None:
    """Prints what each module costs to import, and which heavy libraries come with it."""
    for module in IMPORTS:
        code = f"import sys, {module}; print(*[m for m in {WATCHED!r} if m in sys.modules])"
        run = subprocess.run(
            [sys.executable, "-X", "importtime", "-c", code], capture_output=True, check=True, text=True, cwd=root
        )
        total_us = next(int(line.split("|")[1]) for line in reversed(run.stderr.splitlines()) if line.endswith(module))
        sys.stdout.write(f"import {module}: {total_us / 1e6:.2f} s; heavy: {run.stdout.strip() or 'none'}\n")


def recordings(folder: Path, hour: bool) -> dict[str, Path]:
    """The harp of 100 s; and with `hour` the hours made from it."""
    take = harp_recording(HarpSpec(missing=("G5",), gap_s=(2.6, 3.2)), np.random.default_rng(0))
    paths = {"100 s": folder / "short.flac"}
    soundfile.write(paths["100 s"], take.samples, take.rate_hz)
    if hour:
        rng = np.random.default_rng(1)
        paths["an hour of harps"] = folder / "harps.flac"
        paths["a harp, then a quiet room"] = folder / "room.flac"
        for name, more in (("an hour of harps", 1.0), ("a harp, then a quiet room", 0.0)):
            with soundfile.SoundFile(paths[name], "w", take.rate_hz, 1, "PCM_16") as file:
                while file.frames < 3600 * take.rate_hz:
                    level = 1.0 if file.frames == 0 else more
                    file.write(level * take.samples + 1e-4 * rng.standard_normal(len(take.samples)))
    return paths


def main() -> None:
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("--hour", action="store_true")
    hour = words.parse_args().hour
    root = Path(__file__).parents[2]
    imports(root)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        first: tuple[float, float] | None = None
        for what, path in recordings(folder, hour).items():
            length_s = soundfile.info(path).duration
            options = ["analyze", str(path), "--layout", "lever-34", "--tuning", "E-flat", "--out", str(folder / "out")]
            spent_s, mb = measured([sys.executable, "-m", "analyzer", *options], root)
            sys.stdout.write(
                f"{what}: {length_s:.0f} s analysed with full report in {spent_s:.1f} s of one core, imports included:"
                f" {length_s / spent_s:.0f} times real time; peak {mb:.0f} MB\n"
            )
            if first is None:
                first = length_s, spent_s
                run = subprocess.run(
                    [sys.executable, "-c", ALONE, *options],
                    capture_output=True,
                    check=True,
                    text=True,
                    cwd=root,
                    env={**os.environ, **ONE_THREAD},
                )
                alone_s = json.loads(run.stdout)
                sys.stdout.write(f"the analysis alone: {alone_s:.2f} s, {length_s / alone_s:.0f} times real time\n")
            else:
                slope = (length_s - first[0]) / (spent_s - first[1])
                sys.stdout.write(f"each further second up to there: {slope:.0f} times real time\n")


if __name__ == "__main__":
    main()
