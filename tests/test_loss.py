"""Losses follow published figures and known laws."""

import numpy as np
import pytest

from analyzer.decay import PartialDecay
from analyzer.loss import Loss, fit_law, loss_factor, whole_damping
from analyzer.settings import LossSettings

SETTINGS = LossSettings()


def partial(number, f_hz, loss):
    return PartialDecay(
        number=number,
        frequency_hz=f_hz,
        t60_s=2.1988 / (f_hz * loss),
        t60_log_deviation=0.05,
        late_t60_s=None,
        level_db=-20.0,
        range_db=40.0,
    )


def test_a_loss_of_a_thousandth_at_440_hz_rings_5_seconds():
    # T60 = 2.1988/(f·η) follows from η = 1/Q and an amplitude exp(-π·f·η·t); 4.997 s computed from it.
    assert loss_factor(440.0, 4.997) == pytest.approx(0.001, rel=1e-3)


def test_the_law_finds_its_terms():
    # Nylon: bending loss n²·B·η_E (Woodhouse, Euphonics, 7.2.2), B = 1.7484e-4 for a 0.8 mm string at 440 Hz.
    air, internal, bending = 0.0006, 0.0008, 1.7484e-4 * 0.04
    partials = [partial(n, 440.0 * n, air / n + internal + bending * n**2) for n in range(1, 11)]
    law = fit_law(partials, SETTINGS)
    assert (law.air, law.internal, law.bending) == pytest.approx((air, internal, bending), rel=1e-3)
    assert law.log_scatter < 1e-3
    assert fit_law(partials[:3], SETTINGS) is None


def harp(loss):
    """20 strings of this internal loss, a semitone apart."""
    return [
        (110 * 2 ** (k / 12), Loss(air=0.0, internal=loss, bending=0.0, log_scatter=0.1, partials_n=8))
        for k in range(20)
    ]


def test_a_harp_whose_strings_are_all_old_shows_against_physics_and_a_reference():
    sound, old = harp(0.001), harp(0.004)
    assert whole_damping(sound, (), SETTINGS).high is False
    judged = whole_damping(old, sound, SETTINGS)
    assert judged.high is True
    assert judged.against_reference == pytest.approx(4.0)
    assert whole_damping(sound[:5], (), SETTINGS).typical_loss is None
    assert np.isclose(whole_damping(sound, sound, SETTINGS).against_reference, 1.0)
