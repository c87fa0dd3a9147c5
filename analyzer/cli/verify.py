"""`harp-survey sign` and `harp-survey verify`: say what belongs together, and check that it still does."""

import argparse
import sys
from pathlib import Path

SIGNABLE = {"survey.json", "compare.json", "plan.json", "report.html", "collection.html", "reply.html"}
"""A folder with one of these is a report's; any other, perhaps the one that holds them all, was hardly meant."""


def add(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """The words of both commands."""
    words = commands.add_parser(
        "sign",
        help="sign a report's folder off",
        description="Writes signed.json into the folder: who, when, which instrument, and the SHA-256 of every file"
        " there and of the recordings behind it.",
    )
    words.add_argument("folder", type=Path, metavar="REPORT_FOLDER", help="what analyze, compare or plan wrote")
    words.add_argument("--by", required=True, metavar="NAME", help="the technician who signs")
    words.add_argument("--instrument", default="", metavar="NAME", help="which harp (else the survey's title)")
    words.add_argument("--date", default="", metavar="DAY", help="day of signing (today)")
    words.set_defaults(run=run_sign)
    words = commands.add_parser(
        "verify",
        help="check a report's folder against what was signed",
        description="Checks every file of the folder, and any recordings named, against its signed.json, which analyze"
        " and compare write and sign puts a name to. That shows whether anything was altered since; whether the list"
        " itself is the signer's shows its SHA-256, if the signer gave you that apart from the folder.",
    )
    words.add_argument("folder", type=Path, metavar="REPORT_FOLDER", help="a folder with a signed.json")
    words.add_argument(
        "others",
        nargs="*",
        type=Path,
        metavar="RECORDING",
        help="recordings or survey.json files that the report should have been made from",
    )
    words.set_defaults(run=run)


def run_sign(words: argparse.Namespace) -> int:
    """Write signed.json."""
    from analyzer.cli.moment import now
    from analyzer.errors import UnusableInput
    from analyzer.signing import SIGNED, folder_files, listed_before, recordings_of, sha256, sign
    from analyzer.spreadsheet import day
    from analyzer.survey import read_survey
    from analyzer.words import counted
    from analyzer.writing import write_files

    if not words.by.strip():
        raise UnusableInput("--by is empty; give the name of the technician who signs.")
    files = folder_files(words.folder)
    if not files.keys() & SIGNABLE:
        raise UnusableInput(f"{words.folder}: there is no report in it to sign; name the folder of one.")
    surveys = [read_survey(words.folder)] if "survey.json" in files else []
    before = listed_before(words.folder)
    content = sign(
        files,
        technician=words.by.strip(),
        date=day(words.date) or now()[:10],
        instrument=words.instrument or next((s.title for s in surveys), before.instrument),
        surveys=before.surveys,
        recordings={**before.recordings, **recordings_of(surveys)},
    )
    write_files(words.folder, {SIGNED: content})
    sys.stderr.write(
        f"Signed by {words.by.strip()}: {counted(len(files), 'file')} in {words.folder / SIGNED}.\n"
        f"SHA-256 of the list itself: {sha256(content)}\n"
        "Give that to whoever is to check the folder, apart from the folder: it shows that the list is yours.\n"
    )
    return 0


def run(words: argparse.Namespace) -> int:
    """Say what matches; what does not is the error."""
    from analyzer.errors import UnusableInput
    from analyzer.signing import verify

    found = verify(words.folder, words.others)
    if found.problems:
        raise UnusableInput(f"{words.folder}: not as it was listed. {' '.join(found.problems)}")
    signed = found.signed
    files_n = len(found.matching) - len(words.others)
    unsigned = f"{signed.named} is named in them as technician, but nobody" if signed.named else "Nobody"
    by = f"signed by {signed.technician}." if signed.technician else f"written. {unsigned} has signed them off."
    lines = [
        f"{files_n} {'file is' if files_n == 1 else 'files are'} as {'it was' if files_n == 1 else 'they were'} {by}"
    ]
    lines += [f"{path.name}: this report was made from it." for path in words.others]
    lines += [f"Instrument: {signed.instrument}"] if signed.instrument else []
    lines += [f"Date: {signed.date}"] if signed.date else []
    lines += [f"Made from the recording: {name} (SHA-256 {sha256})" for sha256, name in signed.recordings.items()]
    part = "what was signed" if signed.technician else "the list"
    lines += [f"Not part of {part}: {', '.join(found.beside)}."] if found.beside else []
    lines.append(f"SHA-256 of the list itself: {found.sha256}")
    lines.append(
        "Nothing was altered since the list was made. Who made it, the list cannot show: compare its SHA-256 with the"
        f" one that {signed.technician or 'whoever made it'} gives you."
    )
    sys.stdout.write("\n".join(lines) + "\n")
    return 0
