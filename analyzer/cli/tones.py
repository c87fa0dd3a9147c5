"""`harp-survey tones`: the sounds to tune by, at the targets of a plan's passes or of a survey."""

import argparse
import sys
from typing import TYPE_CHECKING

from analyzer.cli import manner

if TYPE_CHECKING:
    from pathlib import Path

ABOUT = """Writes plucked-string tones at each pass's targets, in working order, each heard three times: one WAV a pass,
or one a string. Given a survey instead of a plan: every string at its own note, middle C first, then outward."""

Target = tuple[str, str, float]


def add(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """The words of this command."""
    words = commands.add_parser("tones", help="make tones to tune by", description=ABOUT)
    words.add_argument("folder", metavar="PLAN_FOLDER|SURVEY_FOLDER", help="the folder that plan or analyze wrote")
    words.add_argument(
        "--out", required=True, type=manner.folder, metavar="DIR", help="folder for the WAV files and tones.csv"
    )
    words.add_argument(
        "--pass", dest="pass_n", type=int, metavar="N", help="only this pass (a plan's passes up to its stop)"
    )
    words.add_argument("--per", choices=("pass", "string"), default="pass", help="one file a pass, or one a string")
    words.set_defaults(run=run)


def run(words: argparse.Namespace) -> int:
    """Make the tones."""
    from pathlib import Path

    from analyzer.signing import check_unsigned_among
    from analyzer.tones import Cue, cues_csv, in_order, wav
    from analyzer.words import counted
    from analyzer.writing import write_files

    files: dict[str, bytes | str] = {}
    listed: list[tuple[str, Cue]] = []
    for name, targets in _groups(Path(words.folder), words.pass_n).items():
        parts = {f"{name}.wav": targets}
        if words.per == "string":
            parts = {f"{name}-{n:02d}-{t[0]}.wav": [t] for n, t in enumerate(targets, start=1)}
        for file, some in parts.items():
            sound, cues = in_order(some)
            files[file] = wav(sound)
            listed += [(file, cue) for cue in cues]
    files["tones.csv"] = cues_csv(listed)
    check_unsigned_among(words.out, files)
    write_files(words.out, files)
    said = f"{counted(len(listed), 'tone')} in {counted(len(files) - 1, 'file')}"
    sys.stderr.write(f"{said}; tones.csv says which is which: {words.out}\n")
    return 0


def _groups(folder: "Path", pass_n: int | None) -> dict[str, list[Target]]:
    """File name without ending -> its strings in order."""
    from analyzer.errors import UnusableInput
    from analyzer.plan_tables import read_plan
    from analyzer.survey import read_survey

    if not (folder / "plan.json").is_file():
        if pass_n is not None:
            raise UnusableInput(f"{folder}: --pass needs the folder that harp-survey plan wrote (no plan.json here).")
        return {"tones": _outward([(t.string, t.note, t.target_hz) for t in read_survey(folder).tuning.targets])}
    plan = read_plan(folder / "plan.json")
    if not plan.passes:
        raise UnusableInput(
            f"{folder}: this plan has no passes, the harp is in tune; name the survey's folder instead."
        )
    if pass_n is not None and not 1 <= pass_n <= len(plan.passes):
        raise UnusableInput(f"--pass {pass_n}: the plan has {len(plan.passes)} passes.")
    wanted = range(1, plan.checkpoint_n + 1) if pass_n is None else [pass_n]
    return {f"pass-{n}": [(r.string, r.note, r.to_hz) for r in plan.passes[n - 1]] for n in wanted}


def _outward(targets: list[Target]) -> list[Target]:
    """Middle C first where the harp has it, then its neighbours to either side, and so on."""
    names = [string for string, _, _ in targets]
    middle = names.index("C4") if "C4" in names else len(names) // 2
    return sorted(targets, key=lambda t: abs(names.index(t[0]) - middle))
