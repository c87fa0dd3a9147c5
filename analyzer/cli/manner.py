"""How people are spoken to: the words that all commands share which write pages."""

import argparse
import sys
from contextlib import AbstractContextManager
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from analyzer.speech import Manner


def add(words: "argparse.ArgumentParser | argparse._ArgumentGroup") -> None:
    """`--language` and `--harp-octaves`."""
    words.add_argument("--language", choices=("en", "de"), default="en", help="language of what is written (en)")
    words.add_argument("--harp-octaves", action="store_true", help="count octaves in it as harpists do: 5C for C3")


def folder(text: str) -> Path:
    """A folder to write into, as a type for argparse: named, since "" would mean the folder one happens to be in."""
    if not text.strip():
        raise argparse.ArgumentTypeError("name a folder for the results")
    try:
        Path(text).is_dir()
    except OSError as e:
        raise argparse.ArgumentTypeError(f"{e.strerror}; name another folder for the results") from e
    return Path(text)


def of(words: argparse.Namespace) -> "Manner":
    """What was asked for; English of a command that has no such words."""
    from analyzer.speech import Manner

    return Manner(language=getattr(words, "language", "en"), harp_octaves=getattr(words, "harp_octaves", False))


def tell_page(page: Path) -> None:
    """Say where the page is that was written, in the language of the moment."""
    from analyzer.speech import say

    sys.stderr.write(say("The page to open: {page}").format(page=page) + "\n")


def spoken(words: argparse.Namespace) -> "AbstractContextManager[None]":
    """All that is rendered inside is spoken like that."""
    from analyzer.speech import speaking

    return speaking(of(words))
