"""The version of this program and of the libraries under it, for the report's method section."""

from functools import cache
from importlib.metadata import PackageNotFoundError, version

try:
    VERSION = version("harp-string-survey")
except PackageNotFoundError:  # run from a checkout that is not installed
    VERSION = "0.0.0+checkout"

_LIBRARIES = ("av", "matplotlib", "msgspec", "numpy", "scipy", "soundfile", "soxr")


def library_versions() -> dict[str, str]:
    """Library -> version, of those that can change a figure."""
    return {name: _library_version(name) for name in _LIBRARIES}


@cache
def _library_version(name: str) -> str:
    """As installed; looked up once a process, since a batch asks for every harp."""
    return version(name)
