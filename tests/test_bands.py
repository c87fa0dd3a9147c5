"""Bands against signals whose envelope is known in closed form."""

import numpy as np
import pytest

from analyzer.bands import PluckBands
from tests.bench.pitch_notes import Held

RATE_HZ = 44100
ONSET_S = 0.5


def bands_of(samples: np.ndarray, end_s: float = 2.0, lead_s: float = 0.4) -> PluckBands:
    return PluckBands(Held(samples), RATE_HZ, ONSET_S, end_s, lead_s)


def times_s(length_s: float = 3.0) -> np.ndarray:
    return np.arange(int(length_s * RATE_HZ)) / RATE_HZ - ONSET_S


def test_a_damped_sine_keeps_its_amplitude_its_decay_and_its_phase() -> None:
    t = times_s()
    hz, fall = 441.3, 1.5
    bands = bands_of(0.3 * np.exp(-fall * t) * np.cos(2 * np.pi * hz * t + 0.7))
    band = bands.band(440.0, 30.0)
    inside = band.within(0.2, 1.6)
    at, z = band.times_s[inside], band.envelope[inside]
    assert np.abs(z) == pytest.approx(0.3 * np.exp(-fall * at), rel=0.01)
    turned = z * np.exp(-2j * np.pi * (hz * at - band.centre_hz * (at - band.times_s[0])))  # from the first value on
    assert np.angle(turned) == pytest.approx(0.7, abs=0.01)


def test_many_bands_at_once_are_the_same_as_one_by_one() -> None:
    samples = np.random.default_rng(1).standard_normal(3 * RATE_HZ)
    bands = bands_of(samples)
    centres = (50.0, 440.0, 3000.0)
    for alone, together in zip((bands.band(hz, 20.0) for hz in centres), bands.bands(centres, 20.0), strict=True):
        assert together.centre_hz == alone.centre_hz
        assert np.array_equal(together.times_s, alone.times_s)
        assert together.envelope == pytest.approx(alone.envelope)


def test_a_tone_outside_the_band_stays_out() -> None:
    t = times_s()
    band = bands_of(np.cos(2 * np.pi * 500.0 * t)).band(440.0, 30.0)
    assert np.abs(band.envelope[band.within(0.2, 1.6)]).max() < 1e-3


def test_a_band_past_half_the_rate_is_silent_and_one_below_zero_too() -> None:
    bands = bands_of(np.random.default_rng(2).standard_normal(3 * RATE_HZ))
    for hz in (RATE_HZ, -300.0):
        assert not bands.band(hz, 30.0).envelope.any()


def test_noise_power_is_what_white_noise_gives_in_the_band() -> None:
    """White noise of variance σ² has 2·σ²/rate a hertz; |z|² is twice the band's power, and the squared cosine's
    power averages 3/8 over the full width of 2·h."""
    sigma, half_hz = 0.1, 40.0
    bands = bands_of(sigma * np.random.default_rng(3).standard_normal(12 * RATE_HZ), end_s=11.0)
    expected = 2 * (2 * sigma**2 / RATE_HZ) * 2 * half_hz * 3 / 8
    assert bands.noise_powers((1000.0,), half_hz, 200.0, (0.0, 10.0)) == pytest.approx(expected, rel=0.15)
    band = bands.band(1000.0, half_hz)
    measured = np.mean(np.abs(band.envelope[band.within(0.0, 10.0)]) ** 2)
    assert measured == pytest.approx(expected, rel=0.15)


def test_noise_power_passes_over_a_tone_on_one_side() -> None:
    t = times_s()
    noise = 0.01 * np.random.default_rng(4).standard_normal(t.size)
    quiet, beside = (bands_of(noise + a * np.cos(2 * np.pi * 1200.0 * t)) for a in (0.0, 0.5))
    span = (0.0, 2.0)
    loud, soft = (b.noise_powers((1000.0,), 40.0, 200.0, span)[0] for b in (beside, quiet))
    assert loud < 2 * soft


def test_powers_and_noises_of_many_bands_are_those_of_each() -> None:
    bands = bands_of(np.random.default_rng(5).standard_normal(3 * RATE_HZ))
    centres = np.array([50.0, 440.0, 3000.0])
    at_s, powers = bands.powers(centres, 20.0)
    noises = bands.noise_powers(centres, 20.0, 60.0, (0.0, 2.0))
    for hz, power, noise in zip(centres, powers, noises, strict=True):
        band = bands.band(hz, 20.0)
        assert np.array_equal(at_s, band.times_s)
        assert power == pytest.approx(np.abs(band.envelope) ** 2)
        assert noise == pytest.approx(bands.noise_powers((hz,), 20.0, 60.0, (0.0, 2.0))[0])
