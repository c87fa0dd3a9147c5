"""The whole recording on one picture, every pluck with the string it was taken for: to check the reading by eye.

Method. A constant-Q spectrum (Brown, JASA 89 (1991) 425, by librosa) has its rows a quarter-tone apart, so that the
strings of a harp climb it in even steps and a wrong name stands out. The name of each counted pluck stands at its
onset and pitch, a sound that was taken for no string is a tick on the lower edge.

Known limits. Drawn for the first recording, and only its first `OverviewSettings.most_s` seconds.
"""

import io
from pathlib import Path

import numpy as np

from analyzer.figures import STYLE
from analyzer.recording import read_recording
from analyzer.settings import OverviewSettings, RecordingSettings
from analyzer.survey import Survey


def picture(recording: Path, survey: Survey, recorded: RecordingSettings, settings: OverviewSettings) -> bytes:
    """PNG of the recording with the plucks of `survey` named. Raises UnusableInput as reading it does."""
    import librosa
    import matplotlib
    from matplotlib.figure import Figure

    s = settings
    sound = read_recording(recording, recorded)
    length = min(len(sound.samples), round(s.most_s * sound.rate_hz))
    samples = np.array(sound.samples.read(0, length), dtype=np.float32)
    bins = round(s.bins_per_octave * np.log2(s.highest_hz / s.lowest_hz))
    spectrum = librosa.cqt(
        samples,
        sr=sound.rate_hz,
        hop_length=s.hop,
        fmin=s.lowest_hz,
        n_bins=bins,
        bins_per_octave=s.bins_per_octave,
    )
    level_db = librosa.amplitude_to_db(np.abs(spectrum), ref=np.max, top_db=s.range_db)
    with matplotlib.rc_context():
        matplotlib.rc_file(STYLE)
        figure = Figure(figsize=(max(s.least_inches, length / sound.rate_hz * s.inches_per_s), s.high_inches))
        axes = figure.add_subplot()
        edges_s = np.arange(level_db.shape[1] + 1) * s.hop / sound.rate_hz
        edges_hz = s.lowest_hz * 2 ** ((np.arange(bins + 1) - 0.5) / s.bins_per_octave)
        axes.pcolormesh(edges_s, edges_hz, level_db, cmap="cividis", rasterized=True)
        axes.set_yscale("log")
        axes.set_yticks(s.ticks_hz, [f"{hz:g}" for hz in s.ticks_hz])
        axes.minorticks_off()
        axes.set_xlabel("seconds")
        axes.set_ylabel("Hz")
        for pluck in survey.plucks:
            if pluck.recording != 0 or pluck.onset_s > s.most_s:
                continue
            if pluck.string is None or pluck.pitch_hz is None:
                axes.plot(pluck.onset_s, s.lowest_hz, marker="|", color="white", clip_on=False)
                continue
            text = pluck.string if pluck.counted else f"({pluck.string})"
            axes.annotate(text, (pluck.onset_s, pluck.pitch_hz), (2, 3), textcoords="offset points", color="white")
        out = io.BytesIO()
        figure.savefig(out, format="png", metadata={"Software": None}, bbox_inches="tight")
    return out.getvalue()
