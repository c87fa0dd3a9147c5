"""The command line: the only place that parses words, prints and exits.

One module a command, each with `add(commands)` (its words; standard library only, so that `--help` is quick) and
`run(words)` (imports what it needs, returns the exit code). Results go to files, tables asked for to stdout, progress
and summaries to stderr. An error meant for the person is one sentence on stderr and its exit code. Where nobody reads
any more (`| head -1`), the program ends without a word.
"""

import argparse
import sys
from collections.abc import Sequence

from analyzer.cli import analyze as analyze
from analyzer.cli import batch as batch
from analyzer.cli import compare as compare
from analyzer.cli import demo as demo
from analyzer.cli import layouts as layouts
from analyzer.cli import manner, outlet
from analyzer.cli import plan as plan
from analyzer.cli import record as record
from analyzer.cli import reply as reply
from analyzer.cli import report as report
from analyzer.cli import tones as tones
from analyzer.cli import verify as verify
from analyzer.errors import SurveyError, UnusableInput

COMMANDS = (analyze, report, batch, plan, tones, compare, reply, record, verify, layouts, demo)

ABOUT = """Surveys a harp from one recording of its strings plucked in order: which pluck is which string,
how far off, with what certainty; what is missing, dull or false; what to do first."""


def parser() -> argparse.ArgumentParser:
    """The whole grammar of the command line."""
    words = argparse.ArgumentParser(prog="harp-survey", description=ABOUT)
    words.add_argument("--version", action="store_true", help="print the version and stop")
    commands = words.add_subparsers(metavar="COMMAND", dest="command")
    for command in COMMANDS:
        command.add(commands)
    return words


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command; returns its exit code (0 done, 2 unusable input or words, 3 too little of a harp)."""
    return outlet.until_closed(lambda: _run(arguments))


def _run(arguments: Sequence[str] | None) -> int:
    grammar = parser()
    typed = list(sys.argv[1:] if arguments is None else arguments)
    words = grammar.parse_args(["analyze", *typed[1:]] if typed[:1] == ["analyse"] else typed)
    if words.version:
        from analyzer.version import VERSION

        sys.stdout.write(f"harp-survey {VERSION}\n")
        return 0
    if words.command is None:
        grammar.print_help()
        return 0
    try:
        code: int = words.run(words)
    except SurveyError as e:
        with manner.spoken(words):
            sys.stderr.write(f"harp-survey: {_shown(str(e))}\n")
        return e.exit_code
    except OSError as e:
        if outlet.is_closed_pipe(e):
            raise
        what = f"{e.filename}: " if e.filename else ""
        with manner.spoken(words):
            sys.stderr.write(f"harp-survey: {_shown(f'{what}{e.strerror or e}; name another file or folder.')}\n")
        return UnusableInput.exit_code
    except KeyboardInterrupt:
        sys.stderr.write("harp-survey: stopped; nothing was written.\n")
        return 130
    return code


def _shown(error: str) -> str:
    """The error on one line, whatever the names in it hold; a list of problems on one line each."""
    from analyzer.restating import restated_error

    lines = [restated_error(line) for line in error.split("\n  ")]
    return "\n  ".join(_printable(line) for line in lines)


def _printable(line: str) -> str:
    return "".join(c if c.isprintable() else "?" for c in line)
