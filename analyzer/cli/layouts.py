"""`harp-survey layouts`: list the built-in layouts, show one, check a file of one's own."""

import argparse
import sys
from pathlib import Path


def add(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """The words of this command."""
    words = commands.add_parser(
        "layouts",
        help="list the built-in layouts, show one, or check a file of your own",
        description="Without words: lists the built-in layouts. With a name or file: shows every string of it.",
    )
    words.add_argument("layout", nargs="?", metavar="NAME|FILE", help="a layout to show")
    words.add_argument("--check", metavar="FILE", help="list every problem of a layout file of your own")
    words.set_defaults(run=run)


def run(words: argparse.Namespace) -> int:
    """List, show or check."""
    from analyzer.errors import UnusableInput
    from analyzer.layout import check_layout, describe_layout, describe_layouts, load_layout

    if words.check:
        problems = check_layout(Path(words.check))
        if problems:
            raise UnusableInput(" ".join(problems))
        lines: tuple[str, ...] = (f"{words.check}: a usable layout.",)
    else:
        lines = describe_layout(load_layout(words.layout)) if words.layout else describe_layouts()
    sys.stdout.write("\n".join(lines) + "\n")
    return 0
