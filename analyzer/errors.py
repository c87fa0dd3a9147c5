"""What can go wrong, one class a kind; `cli` turns each into one sentence on stderr and its exit code."""

from pathlib import Path


class SurveyError(Exception):
    """Base of all errors meant for the person at the keyboard: the message is one plain sentence.

    It names the file or word, the value, what was expected, and the likely mend.
    """

    exit_code = 2


class UnusableInput(SurveyError):
    """The recording, or what was said beside it, cannot be used (exit code 2)."""


class TooLittleHarp(SurveyError):
    """The recording was read, but too little of a harp is in it; the sentence says what to record again (exit 3)."""

    exit_code = 3


def shown(path: Path) -> str:
    """A path for a sentence: on one line, whatever its name holds."""
    return "".join(c if c.isprintable() else "?" for c in str(path))
