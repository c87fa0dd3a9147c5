"""The known truths are true: laws of `synth` measured back by plain transforms and energy curves."""

import numpy as np
import pytest
from scipy import signal

from tests import synth_sounds
from tests.synth import Body, PluckSpec, modal_sum, pluck, usual_t60_s
from tests.synth_harp import HarpSpec, harp_recording, harp_strings, string_deviations

RATE_HZ = 22050
NO_ATTACK = {"finger_db": -np.inf, "knock_db": -np.inf}
SINGLE = {"second_db": -np.inf, "glide_cents": 0.0, **NO_ATTACK}


def peak_hz(sound, near_hz, rate_hz=RATE_HZ):
    """Frequency of the greatest peak within 3 % of `near_hz`, in a Hann spectrum padded eightfold."""
    size = 8 * sound.size
    spectrum = np.abs(np.fft.rfft(sound * np.hanning(sound.size), size))
    at_hz = np.fft.rfftfreq(size, 1 / rate_hz)
    near = np.flatnonzero(np.abs(at_hz / near_hz - 1) < 0.03)
    i = near[np.argmax(spectrum[near])]
    left, mid, right = np.log(spectrum[i - 1 : i + 2])
    return at_hz[i] + 0.5 * (left - right) / (left - 2 * mid + right) * at_hz[1]


def band_envelope(sound, centre_hz, width_hz, rate_hz=RATE_HZ):
    sections = signal.butter(2, [centre_hz - width_hz, centre_hz + width_hz], "bandpass", fs=rate_hz, output="sos")
    return np.abs(signal.hilbert(signal.sosfiltfilt(sections, sound)))


def t20_s(sound, start_s, rate_hz=RATE_HZ):
    """T20 of ISO 3382-1 from Schroeder's backward integration of the samples themselves."""
    energy = np.cumsum(sound[int(start_s * rate_hz) :][::-1] ** 2)[::-1]
    curve_db = 10 * np.log10(energy / energy[0] + 1e-15)
    used = (curve_db <= -5) & (curve_db >= -25)
    return -60 / np.polyfit(np.flatnonzero(used) / rate_hz, curve_db[used], 1)[0]


def test_partials_lie_where_a_stiff_string_has_them():
    """Frequencies against f_n = n·f_0·√(1 + B·n²), with the B of Woodhouse's B3 guitar string (6.999e-5)."""
    b, f1_hz = 6.999e-5, 246.94
    sound, _ = pluck(PluckSpec(f1_hz=f1_hz, inharmonicity=b, pluck_at=0.29, **SINGLE), 4.0, RATE_HZ)
    f0_hz = f1_hz / np.sqrt(1 + b)
    for n in (1, 2, 3, 5, 8, 12):
        expected_hz = n * f0_hz * np.sqrt(1 + b * n**2)
        assert peak_hz(sound, expected_hz) == pytest.approx(expected_hz, rel=2e-5)


def test_a_partial_at_the_plucked_point_is_silent():
    sound, truth = pluck(PluckSpec(f1_hz=220.0, pluck_at=0.25, body=None, **SINGLE), 2.0, RATE_HZ)
    level = {n: band_envelope(sound, n * 220.0, 15)[RATE_HZ // 10] for n in (1, 3, 4, 5)}
    assert level[4] < 1e-3 * level[1]
    fallen_db = 60 * 0.1 * (1 / truth.partials[2].t60_s - 1 / truth.partials[0].t60_s)
    assert level[3] / level[1] == pytest.approx(1 / 3 * 10 ** (-fallen_db / 20), rel=0.03)
    assert truth.partials[3].level_db < -100


def test_wider_fingers_take_the_treble_away():
    """A smooth finger of relative width w weights partial n by exp(-(n·π·w)²/2)."""

    def sixth_to_first(width):
        spec = PluckSpec(f1_hz=220.0, pluck_at=0.42, pluck_width=width, body=None, **SINGLE)
        sound, _ = pluck(spec, 1.0, RATE_HZ)
        return band_envelope(sound, 6 * 220.0, 15)[2000] / band_envelope(sound, 220.0, 15)[2000]

    expected = np.exp(-((6 * np.pi) ** 2) * (0.05**2 - 0.005**2) / 2)
    assert sixth_to_first(0.05) / sixth_to_first(0.005) == pytest.approx(expected, rel=0.03)


@pytest.mark.parametrize("f1_hz", [65.4, 261.6, 1047.0])
def test_single_partials_die_at_the_stated_rate(f1_hz):
    spec = PluckSpec(f1_hz=f1_hz, pluck_at=0.29, **SINGLE)
    sound, truth = pluck(spec, 3.0, RATE_HZ)
    assert truth.partials[0].t60_s == pytest.approx(usual_t60_s(f1_hz), rel=1e-6)
    for partial in truth.partials[:3]:
        envelope_db = 20 * np.log10(band_envelope(sound, partial.frequency_hz, 0.2 * f1_hz))
        used = np.arange(int(0.15 * RATE_HZ), int(min(2.5, 0.5 * partial.t60_s) * RATE_HZ))
        slope = np.polyfit(used / RATE_HZ, envelope_db[used], 1)[0]
        assert -60 / slope == pytest.approx(partial.t60_s, rel=0.01)


def test_losses_are_a_constant_a_linear_and_a_bending_part():
    """σ_n = π·f_n·(η_air/n + η_internal + B·n²·η_E): bending alone is told by what doubling η_E adds."""
    b = 4e-4
    both = [
        pluck(PluckSpec(f1_hz=440.0, inharmonicity=b, bending_loss=loss), 0.1, RATE_HZ)[1].partials
        for loss in (0.03, 0.06)
    ]
    for once, twice in zip(*both, strict=True):
        added = np.log(1000) / twice.t60_s - np.log(1000) / once.t60_s
        n = once.number  # the internal part gives way, so that the first partial keeps its T60
        assert added == pytest.approx(np.pi * once.frequency_hz * b * (n**2 - 1) * 0.03, rel=1e-6, abs=1e-6)


def test_decay_of_a_pure_exponential_is_its_t60():
    """ISO 3382-1: a pure decay of T60 = 3.000 s has T20 = 3.000 s."""
    spec = PluckSpec(f1_hz=1000.0, t60_s=3.0, pluck_at=0.5, pluck_width=0.5, body=None, **SINGLE)
    sound, truth = pluck(spec, 6.0, RATE_HZ)
    assert truth.decay_s == pytest.approx(3.0, rel=1e-3)
    assert t20_s(sound, 0.05) == pytest.approx(3.0, rel=1e-3)


@pytest.mark.parametrize(("f1_hz", "split_hz"), [(82.4, 0.0), (330.0, 0.4), (1318.5, 1.5)])
def test_decay_truth_is_that_of_the_samples(f1_hz, split_hz):
    """The closed form against a backward integration of the sound, all partials in it."""
    sound, truth = pluck(PluckSpec(f1_hz=f1_hz, split_hz=split_hz, **NO_ATTACK), 11.0, RATE_HZ)
    assert t20_s(sound, 0.05) == pytest.approx(truth.decay_s, rel=0.01)


def test_doubled_damping_halves_the_decay():
    spec = {"f1_hz": 440.0, "inharmonicity": 1e-4, "second_db": -np.inf, "body": None}
    sound = pluck(PluckSpec(**spec), 1.0)[1].partials[0]
    dull = pluck(PluckSpec(**spec, damping_factor=2.0), 1.0)[1].partials[0]
    assert dull.t60_s == pytest.approx(sound.t60_s / 2)


@pytest.mark.parametrize("split_hz", [0.7, 1.6, 3.0])
def test_two_polarisations_beat_at_their_split(split_hz):
    spec = PluckSpec(
        f1_hz=440.0,
        split_hz=split_hz,
        t60_s=20.0,
        second_decay_ratio=1.0,
        second_db=-6.0,
        glide_cents=0.0,
        **NO_ATTACK,
    )
    sound, truth = pluck(spec, 8.0, RATE_HZ)
    envelope = band_envelope(sound, 440.0, 40)[RATE_HZ // 4 : -RATE_HZ // 4]
    flat = np.log(envelope) - np.polyval(
        np.polyfit(np.arange(envelope.size), np.log(envelope), 1), np.arange(envelope.size)
    )
    size = 16 * flat.size
    rates_hz = np.fft.rfftfreq(size, 1 / RATE_HZ)
    depth = np.abs(np.fft.rfft(flat * np.hanning(flat.size), size))
    assert rates_hz[np.argmax(np.where(rates_hz > 0.3, depth, 0))] == pytest.approx(split_hz, abs=0.05)
    assert truth.partials[1].split_hz == pytest.approx(2 * split_hz, rel=0.01)


def measured_pitch_hz(sound, f1_hz, begins_s, ends_s, rate_hz=RATE_HZ):
    """The definition taken literally: the analytic first partial's phase steps, weighted by its energy.

    The filter is steep: what leaks of the second partial counts with its share of the energy.
    """
    sections = signal.butter(6, [0.6 * f1_hz, 1.4 * f1_hz], "bandpass", fs=rate_hz, output="sos")
    z = signal.hilbert(signal.sosfiltfilt(sections, sound))
    steps_hz = np.angle(z[1:] * np.conj(z[:-1])) * rate_hz / (2 * np.pi)
    window = slice(int(begins_s * rate_hz), int(ends_s * rate_hz))
    weight = np.abs(z[:-1][window]) ** 2
    return np.sum(steps_hz[window] * weight) / np.sum(weight)


@pytest.mark.parametrize(
    ("f1_hz", "glide_cents", "split_hz"),
    [(98.0, 8.0, 0.0), (261.6, 6.0, 0.5), (880.0, 0.0, 1.0), (2093.0, 8.0, 0.6)],
)
def test_pitch_truth_is_the_energy_weighted_mean_instantaneous_frequency(f1_hz, glide_cents, split_hz):
    sound, truth = pluck(PluckSpec(f1_hz=f1_hz, glide_cents=glide_cents, split_hz=split_hz, **NO_ATTACK), 2.5, RATE_HZ)
    measured_hz = measured_pitch_hz(sound, f1_hz, 0.05 if f1_hz > 1500 else 0.15, 1.35)
    assert 1200 * np.log2(measured_hz / truth.pitch_hz) == pytest.approx(0.0, abs=0.03)
    assert truth.pitch_hz >= f1_hz


def test_pitch_glides_down_by_the_stated_cents():
    """Instantaneous frequency of a gliding tone against 10·exp(-t/0.3 s) cents above rest."""
    pure = {"second_db": -np.inf, "pluck_at": 0.5, "pluck_width": 0.5, "body": None, **NO_ATTACK}
    spec = PluckSpec(f1_hz=523.25, t60_s=30.0, glide_cents=10.0, glide_s=0.3, **pure)
    sound, _ = pluck(spec, 2.0, RATE_HZ)
    for at_s in (0.1, 0.5, 1.5):
        cents = 1200 * np.log2(measured_pitch_hz(sound, 523.25, at_s - 0.01, at_s + 0.01) / 523.25)
        assert cents == pytest.approx(10 * np.exp(-at_s / 0.3), abs=0.05)


def test_fast_sum_equals_the_plain_one():
    rng = np.random.default_rng(5)
    fall, f_hz = rng.uniform(1, 30, 20), rng.uniform(60, 8000, 20)
    a = rng.standard_normal(20) + 1j * rng.standard_normal(20)
    t_s = np.arange(RATE_HZ) / RATE_HZ

    def warp(t_s):
        return t_s + 0.003 * 0.2 * (1 - np.exp(-t_s / 0.2)), 1 + 0.003 * np.exp(-t_s / 0.2)

    plain = np.real(a @ np.exp(-fall[:, None] * t_s + 2j * np.pi * f_hz[:, None] * warp(t_s)[0]))
    assert np.max(np.abs(modal_sum(fall, f_hz, a, t_s.size, RATE_HZ, warp) - plain)) < 1e-3 * np.max(np.abs(plain))


def test_a_string_in_tune_answers_and_one_out_of_tune_hardly():
    """The other sounds on when the plucked one is gone; driven by exp(s₁t) it answers with 1/|s₁ - s₂|."""
    plucked = PluckSpec(f1_hz=440.0, t60_s=0.4, **SINGLE)
    fall_per_s = np.log(1000) / 0.4 - np.log(1000) / 8.0

    def late_level(other_hz):
        other = PluckSpec(f1_hz=other_hz, t60_s=8.0, **SINGLE)
        sound, _ = pluck(plucked, 3.0, RATE_HZ, answering=(other,), coupling_per_s=0.3)
        return band_envelope(sound, other_hz, 5.0)[int(1.5 * RATE_HZ)]

    expected = abs(fall_per_s + 2j * np.pi * 9.0) / abs(fall_per_s + 2j * np.pi * 0.5)
    assert late_level(440.5) / late_level(449.0) == pytest.approx(expected, rel=0.02)


def test_the_body_radiates_most_at_its_modes():
    body = Body()
    modes_hz = np.asarray(body.modes_hz)
    between_hz = np.sqrt(modes_hz[1:] * modes_hz[:-1])
    assert body.gain(modes_hz).min() > body.gain(between_hz).min()
    assert body.gain(np.array([40.0]))[0] < 0.3 * body.gain(np.array([180.0]))[0]


def test_harp_strings_count_and_sound_as_published():
    """Usual ranges (lever 34 C2-A6, pedal 47 C1-G7); C-flat 1 = 30.868, G-flat 7 = 2959.955 Hz."""
    lever, pedal = harp_strings("C2", "A6"), harp_strings("C1", "G7", flats="BEADGCF")
    assert (len(lever), len(pedal)) == (34, 47)
    assert pedal[0][1] == pytest.approx(30.868, abs=5e-4)
    assert pedal[-1][1] == pytest.approx(2959.955, abs=5e-4)
    assert dict(lever)["E4"] == pytest.approx(311.127, abs=5e-4)


SMALL = HarpSpec(
    strings=harp_strings("C3", "C6"),
    missing=("G4",),
    octave_low=("D4",),
    dull={"F4": 2.0},
    repeats=2,
    slips=1,
    late=1,
    doubles=1,
    knocks=1,
    speech=1,
    clicks=1,
    taps_for_missing=True,
    gap_s=(1.2, 1.6),
    rate_hz=RATE_HZ,
)


def test_a_harp_has_what_was_asked_for():
    take = harp_recording(SMALL, np.random.default_rng(2))
    kinds = [one.kind for one in take.plucks]
    assert [kinds.count(kind) for kind in ("repeat", "slip", "late", "double")] == [2, 1, 1, 1]
    assert sorted(one.kind for one in take.disturbances) == ["click", "knock", "speech", "tap"]
    names = {name for name, _ in SMALL.strings}
    assert {one.string for one in take.plucks} == names - {"G4"}
    onsets_s = [one.onset_s for one in take.plucks]
    assert onsets_s == sorted(onsets_s)
    by_string = {one.string: one for one in take.plucks if one.kind == "pluck"}
    assert by_string["D4"].cents < -1200 + 100
    assert by_string["F4"].note.damping_factor == 2.0


def test_each_pluck_stands_where_and_sounds_as_the_truth_says():
    take = harp_recording(SMALL, np.random.default_rng(2))
    for one in take.plucks:
        before = take.samples[int((one.onset_s - 0.01) * RATE_HZ) : int(one.onset_s * RATE_HZ)]
        after = take.samples[int(one.onset_s * RATE_HZ) : int((one.onset_s + 0.03) * RATE_HZ)]
        assert np.std(after) > 1.2 * np.std(before) or one.kind == "double"
        if one.end_s - one.onset_s > 1.0 and one.kind != "double":
            heard = take.samples[int((one.onset_s + 0.15) * RATE_HZ) : int((one.onset_s + 1.0) * RATE_HZ)]
            assert abs(1200 * np.log2(peak_hz(heard, one.note.f1_hz) / one.note.pitch_hz)) < 6


def test_the_same_seed_gives_the_same_samples():
    spec = HarpSpec(strings=harp_strings("C4", "C5"), repeats=1, gap_s=(0.4, 0.5), rate_hz=RATE_HZ)
    first, again = (harp_recording(spec, np.random.default_rng(9)) for _ in range(2))
    other = harp_recording(spec, np.random.default_rng(10))
    assert np.array_equal(first.samples, again.samples)
    assert first.plucks == again.plucks
    assert other.plucks != first.plucks


def test_deviations_have_the_asked_mean_and_scatter():
    spec = HarpSpec(slack_cents=-250.0, drift_cents=0.0, scatter_cents=30.0)
    rng = np.random.default_rng(4)
    drawn = np.concatenate([list(string_deviations(spec, rng).values()) for _ in range(100)])
    assert np.mean(drawn) == pytest.approx(-250.0, abs=3.0)
    assert np.std(drawn) == pytest.approx(30.0, rel=0.05)


def test_muffled_strings_stop_and_ringing_ones_go_on():
    strings = (("C4", 261.6), ("D4", 293.7))
    levels = {}
    for ringing in (False, True):
        spec = HarpSpec(
            strings=strings,
            scatter_cents=0.0,
            ringing=ringing,
            coupling_per_s=0.0,
            ring_on_share=0.0,
            room_t60_s=None,
            snr_db=80.0,
            gap_s=(1.2, 1.2),
            rate_hz=RATE_HZ,
        )
        take = harp_recording(spec, np.random.default_rng(1))
        levels[ringing] = band_envelope(take.samples, take.plucks[0].note.f1_hz, 5)[
            int((take.plucks[1].onset_s + 0.5) * RATE_HZ)
        ]
    assert levels[True] > 10 * levels[False]


def test_room_dies_away_as_stated():
    impulse = np.zeros(RATE_HZ)
    impulse[0] = 1.0
    heard = synth_sounds.in_room(impulse, 0.5, RATE_HZ, np.random.default_rng(0))
    assert t20_s(heard[1 : RATE_HZ // 2], 0.005) == pytest.approx(0.5, rel=0.07)
    assert np.sum(heard[1:] ** 2) == pytest.approx(10**-0.9, rel=1e-6)


def test_noise_has_the_asked_level_and_is_pink_below():
    noise = synth_sounds.background_noise(20 * RATE_HZ, np.random.default_rng(0))
    assert np.std(noise) == pytest.approx(1.0, rel=0.02)
    pink = synth_sounds.background_noise(20 * RATE_HZ, np.random.default_rng(0), pink_share=1.0)
    at_hz, density = signal.welch(pink, RATE_HZ, nperseg=8192)
    used = (at_hz > 40) & (at_hz < 4000)
    slope = np.polyfit(np.log2(at_hz[used]), 10 * np.log10(density[used]), 1)[0]
    assert slope == pytest.approx(-3.0, abs=0.4)  # pink: 3 dB an octave


def test_phone_keeps_time_and_takes_the_bass():
    clicks = np.zeros(3 * RATE_HZ)
    rng = np.random.default_rng(2)
    for at_s in (0.5, 1.3, 2.2):
        clicks[int(at_s * RATE_HZ) :][:300] = 0.3 * rng.standard_normal(300)
    heard = synth_sounds.phone_channel(clicks, RATE_HZ, gain_control=False)
    assert heard.size == clicks.size
    lag = np.argmax(signal.correlate(heard, clicks, method="fft")) - (clicks.size - 1)
    assert abs(lag) <= 0.001 * RATE_HZ
    at_hz, before = signal.welch(clicks, RATE_HZ, nperseg=4096)
    ratio = signal.welch(heard, RATE_HZ, nperseg=4096)[1] / before
    assert np.median(ratio[(at_hz > 40) & (at_hz < 80)]) < 0.05
    assert np.median(ratio[(at_hz > 400) & (at_hz < 2000)]) == pytest.approx(1.0, abs=0.15)


def test_level_control_evens_out_loud_and_soft():
    tone = np.sin(2 * np.pi * 440 * np.arange(6 * RATE_HZ) / RATE_HZ)
    tone[: 3 * RATE_HZ] *= 0.3
    tone[3 * RATE_HZ :] *= 0.06
    even = synth_sounds.automatic_gain(tone, RATE_HZ)
    loud, soft = np.std(even[2 * RATE_HZ : 3 * RATE_HZ]), np.std(even[-RATE_HZ // 2 :])
    assert loud / soft < 1.3 < 5


@pytest.mark.parametrize("make", [synth_sounds.case_knock, synth_sounds.tap, synth_sounds.metal_click])
def test_knocks_are_short(make):
    sound = make(RATE_HZ, np.random.default_rng(3))
    energy = np.cumsum(sound**2) / np.sum(sound**2)
    assert np.searchsorted(energy, 0.9) / RATE_HZ < 0.1
    assert np.max(np.abs(sound)) == pytest.approx(1.0)


def test_speech_is_voiced_and_wavers():
    """A voice's period is heard in the autocorrelation (70-300 Hz) and differs from syllable to syllable."""
    sound = synth_sounds.speech(2.0, RATE_HZ, np.random.default_rng(6))
    pitches_hz = []
    for start in range(0, sound.size - 2048, 2048):
        part = sound[start : start + 2048]
        if np.std(part) > 0.1:
            similarity = signal.correlate(part, part, method="fft")[2047:]
            lags = np.arange(RATE_HZ // 300, RATE_HZ // 70)
            best = lags[np.argmax(similarity[lags])]
            if similarity[best] > 0.4 * similarity[0]:
                pitches_hz.append(RATE_HZ / best)
    assert len(pitches_hz) >= 5
    assert np.ptp(pitches_hz) / np.mean(pitches_hz) > 0.03


def test_coughs_are_broad():
    sound = synth_sounds.cough(RATE_HZ, np.random.default_rng(3))
    _, density = signal.welch(sound, RATE_HZ, nperseg=1024)
    flatness = np.exp(np.mean(np.log(density[15:180]))) / np.mean(density[15:180])
    assert flatness > 0.15  # a string's is below 0.01
