"""One tone from its envelope: against closed forms, and against what noise allows."""

import numpy as np
import pytest

from analyzer.settings import PitchSettings
from analyzer.tone_fit import fit_tone, fit_tones, peak_hz

S = PitchSettings()
STEP_S = 0.005
T = np.arange(240) * STEP_S + 0.15
GLIDE = 3.0
"""Hz/s: what a glide may be."""


def noisy(z: np.ndarray, noise: float, rng: np.random.Generator) -> np.ndarray:
    """With noise of mean |z|² `noise` that has `independent_share` independent values a value, as a band's has."""
    k = np.fft.fftfreq(len(z))
    weight = np.where(np.abs(k) < 0.25, np.cos(2 * np.pi * k) ** 2, 0.0)
    drawn = np.fft.ifft(np.fft.fft(rng.standard_normal(len(z)) + 1j * rng.standard_normal(len(z))) * weight)
    return z + drawn * np.sqrt(noise / np.mean(weight**2) / 2)


def literal_hz(z: np.ndarray, rate: np.ndarray) -> float:
    """The definition: `rate` (Hz) weighted by |z|²."""
    return float(np.average(rate, weights=np.abs(z) ** 2))


@pytest.mark.parametrize("hz", [-7.3, 0.0, 0.31, 5.0])
@pytest.mark.parametrize("fall", [0.5, 6.0])
def test_a_clean_damped_sinusoid_gives_its_frequency(hz: float, fall: float) -> None:
    tone = fit_tone(T, np.exp((-fall + 2j * np.pi * hz) * T), 1e-12, GLIDE, S)
    assert tone is not None
    assert tone.offset_hz == pytest.approx(hz, abs=1e-5)


def test_two_beating_tones_give_the_mean_that_the_definition_means() -> None:
    parts = np.stack([np.exp((-1.0 + 2j * np.pi * 0.4) * T), 0.5 * np.exp((-0.7 + 2j * np.pi * 1.3) * T)])
    z = parts.sum(axis=0)
    slope = (np.array([-1.0 + 2j * np.pi * 0.4, -0.7 + 2j * np.pi * 1.3])[:, None] * parts).sum(axis=0)
    tone = fit_tone(T, z, 1e-9, GLIDE, S)
    assert tone is not None
    assert tone.offset_hz == pytest.approx(literal_hz(z, np.imag(slope / z) / (2 * np.pi)), abs=0.004)


def test_a_glide_gives_the_mean_that_the_definition_means_and_its_slope() -> None:
    hz, slope = 1.2, -1.5
    z = np.exp(-2.0 * T + 2j * np.pi * (hz * T + slope * T**2 / 2))
    tone = fit_tone(T, z, 1e-9, GLIDE, S)
    assert tone is not None
    assert tone.offset_hz == pytest.approx(literal_hz(z, hz + slope * T), abs=1e-3)
    assert tone.glide_hz_per_s == pytest.approx(slope, rel=0.02)


@pytest.mark.parametrize(("fall", "snr_db"), [(0.5, 20.0), (2.0, 30.0), (8.0, 40.0)])
def test_in_white_noise_it_comes_within_twice_the_bound_and_its_interval_holds(fall: float, snr_db: float) -> None:
    """The Cramér-Rao bound of one damped sinusoid with unknown phase: 1/√(2·Σ p·(t - t̄)²) rad/s, p = |z|² over the
    noise of one independent value (Hua & Sarkar, IEEE Trans. ASSP 38 (1990) 814)."""
    noise = 10 ** (-snr_db / 10) * np.exp(-2 * fall * T[0])
    p = np.exp(-2 * fall * T) / (noise / S.independent_share)
    least = 1 / np.sqrt(2 * np.sum(p * (T - np.average(T, weights=p)) ** 2)) / (2 * np.pi)
    rng = np.random.default_rng(int(fall * 10))
    errors, sigmas = [], []
    for _ in range(200):
        hz = rng.uniform(-3, 3)
        tone = fit_tone(T, noisy(np.exp((-fall + 2j * np.pi * hz) * T), noise, rng), noise, GLIDE, S)
        assert tone is not None
        errors.append(tone.offset_hz - hz)
        sigmas.append(tone.deviation_hz)
    assert np.sqrt(np.mean(np.square(errors))) < 2 * least
    covered = np.mean(np.abs(errors) <= 2 * np.array(sigmas))
    assert covered > 0.90  # 95 % less three standard errors of 200 trials


def test_noise_alone_is_no_tone() -> None:
    rng = np.random.default_rng(5)
    found = [fit_tone(T, noisy(np.zeros(len(T), complex), 1.0, rng), 1.0, GLIDE, S) for _ in range(200)]
    assert sum(tone is not None for tone in found) <= 2


def test_a_disturbance_in_the_band_widens_the_interval() -> None:
    clean = np.exp((-1.0 + 2j * np.pi * 0.4) * T)
    rough = clean + 0.05 * np.exp(-8.0 * (T - T[0]) + 2j * np.pi * 6.0 * T)
    one, other = (fit_tone(T, z, 1e-8, GLIDE, S) for z in (clean, rough))
    assert one is not None
    assert other is not None
    assert other.deviation_hz > 10 * one.deviation_hz
    assert abs(other.offset_hz - 0.4) < 2 * other.deviation_hz


@pytest.mark.parametrize("hz", [-40.0, -0.2, 0.0, 17.77])
def test_the_strongest_tone_is_found(hz: float) -> None:
    z = np.exp(2j * np.pi * hz * T) + 0.3 * np.exp(2j * np.pi * (hz + 30.0) * T)
    assert peak_hz(z, STEP_S) == pytest.approx(hz, abs=0.05)


def test_tones_fitted_together_are_those_fitted_alone() -> None:
    """Of different lengths, one of them shorter than the polynomials are many, one of them noise."""
    rng = np.random.default_rng(8)
    noise, count = np.array([1e-3, 1e-4, 1e-6, 1.0]), np.array([240, 111, 12, 240])
    z = np.stack([np.exp((-fall + 2j * np.pi * hz) * T) for fall, hz in ((1.0, 0.4), (4.0, -3.0), (2.0, 1.1))])
    z = np.stack([noisy(row, n, rng) for row, n in zip([*z, np.zeros(len(T))], noise, strict=True)])
    together = fit_tones(T, z, count, noise, np.full(4, GLIDE), S)
    alone = [fit_tone(T[:k], row[:k], float(n), GLIDE, S) for row, k, n in zip(z, count, noise, strict=True)]
    assert [tone is None for tone in together] == [False, False, False, True]
    for one, other in zip(together[:3], alone[:3], strict=True):
        assert one is not None
        assert other is not None
        for name in ("offset_hz", "deviation_hz", "glide_hz_per_s", "glide_deviation_hz_per_s", "centre_s", "snr"):
            assert getattr(one, name) == pytest.approx(getattr(other, name), rel=1e-6, abs=1e-9), name
