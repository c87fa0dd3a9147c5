"""A recording to go with `example_survey`: each counted pluck a plucked tone at its string's measured pitch."""

from pathlib import Path

import numpy as np
import soundfile

from analyzer.settings import ToneSettings
from analyzer.survey import Survey
from analyzer.tones import tone

RATE_HZ = 22050
TONES = ToneSettings(rate_hz=RATE_HZ)


def write_example_recording(path: Path, survey: Survey) -> Path:
    """Write it as FLAC; the higher a string, the fainter it was plucked."""
    rows = [row for row in survey.strings if row.onset_s is not None]
    sound = np.zeros(round((rows[-1].onset_s + 3.0) * RATE_HZ))
    for k, row in enumerate(rows):
        start = round(row.onset_s * RATE_HZ)
        pluck = tone(row.pitch_hz, 2.5, TONES) * 10 ** (-k / 40)
        sound[start : start + len(pluck)] += pluck
    soundfile.write(path, 0.5 * sound, RATE_HZ, format="FLAC")
    return path
