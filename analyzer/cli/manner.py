"""How people are spoken to: the words that all commands share which write pages."""

import argparse
from contextlib import AbstractContextManager
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from analyzer.speech import Manner


def add(words: "argparse.ArgumentParser | argparse._ArgumentGroup") -> None:
    """`--language` and `--harp-octaves`."""
    words.add_argument("--language", choices=("en", "de"), default="en", help="language of what is written (en)")
    words.add_argument("--harp-octaves", action="store_true", help="count octaves in it as harpists do: 5C for C3")


def of(words: argparse.Namespace) -> "Manner":
    """What was asked for."""
    from analyzer.speech import Manner

    return Manner(language=words.language, harp_octaves=words.harp_octaves)


def spoken(words: argparse.Namespace) -> "AbstractContextManager[None]":
    """All that is rendered inside is spoken like that."""
    from analyzer.speech import speaking

    return speaking(of(words))
