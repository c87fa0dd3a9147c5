"""Progress on stderr: a spinner with the step's name on a terminal, nothing elsewhere."""

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager


@contextmanager
def telling() -> Iterator[Callable[[str], None]]:
    """Gives a function that shows the present step."""
    if not sys.stderr.isatty():
        yield lambda _: None
        return
    from rich.console import Console

    from analyzer.restating import restated

    with Console(stderr=True).status("") as status:
        yield lambda text: status.update(f"{restated(text).text} …")
