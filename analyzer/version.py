"""The version of this program and of the libraries under it, for the report's method section."""

from importlib.metadata import PackageNotFoundError, version

try:
    VERSION = version("harp-string-survey")
except PackageNotFoundError:  # run from a checkout that is not installed
    VERSION = "0.0.0+checkout"

_LIBRARIES = ("av", "matplotlib", "msgspec", "numpy", "scipy", "soundfile", "soxr")


def library_versions() -> dict[str, str]:
    """Library -> version, of those that can change a figure."""
    return {name: version(name) for name in _LIBRARIES}
