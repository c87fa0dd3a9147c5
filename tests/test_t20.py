"""T20 of summed partials, and what its interval says: each doubt against its own truth.

Truths: the closed form of `synth.schroeder_decay_s`, which shares no code with the analyzer, and repeated draws.
"""

from dataclasses import replace

import numpy as np
import pytest

from analyzer.schroeder import NEPERS_60
from analyzer.settings import DecaySettings
from analyzer.t20 import Tones, _by_chance, _energy, _t20, whole_decay
from tests.synth import LN_1000, SETTLED_S, PluckSpec, schroeder_decay_s
from tests.test_decay import LEAD_S, RATE_HZ, heard

SETTINGS = DecaySettings()
SPAN_S = 4.0


def tones(t60_s, power, seconds=SPAN_S, noise=1e-12):
    """Partials that die as exponentials, without beats, and their times."""
    times_s = SETTLED_S + SETTINGS.step_s * np.arange(round(seconds / SETTINGS.step_s))
    fall = np.array(power)[:, None] * 10 ** (-6 * (times_s - SETTLED_S) / np.array(t60_s)[:, None])
    some = np.ones(len(power))
    return times_s, Tones(
        number=np.arange(len(power)) + 1,
        hz=440.0 * (np.arange(len(power)) + 1),
        power=fall + noise,
        noise=noise * some,
        kept=some,
        before=noise * some,
        independent_per_s=50.0,
        missed=1.0,
    )


def true_log(t60_s, power):
    """ln T20 of these partials."""
    number = np.arange(len(power)) + 1.0
    fall = LN_1000 / np.array(t60_s)
    amplitude = np.sqrt(np.array(power)) * np.exp(fall * SETTLED_S)
    return np.log(schroeder_decay_s(fall, 440 * number, amplitude, number))


@pytest.mark.parametrize("louder", [0, 1])
def test_balance_is_what_a_louder_partial_changes(louder):
    t60_s, power = [3.0, 0.8], [0.3, 1.0]
    found = whole_decay(*tones(t60_s, power), None, 0.0, SETTINGS)
    assert np.log(found.decay_s) == pytest.approx(true_log(t60_s, power), abs=0.01)
    # A partial that is louder by 4 and one that is softer by 4, on either side of what is heard
    changed = [np.array(power) * np.where(np.arange(2) == louder, factor, 1) for factor in (4.0, 0.25)]
    changes = [true_log(t60_s, p) - true_log(t60_s, power) for p in changed]
    one = np.sqrt(np.mean(np.square(changes))) / np.log(4)
    # Of two partials either one is as good as the other turned about, so that both make √2 of one.
    assert found.balance == pytest.approx(np.sqrt(2) * one, rel=0.25)


def test_partials_that_die_alike_have_nothing_to_balance():
    found = whole_decay(*tones([1.5, 1.5], [1.0, 0.2]), None, 0.0, SETTINGS)
    assert found.balance < 1e-3
    assert found.relative < 0.005


def test_what_is_heard_to_the_end_carries_nothing_on():
    assert whole_decay(*tones([1.5, 1.0], [1.0, 0.5]), None, 0.0, SETTINGS).carried == 0
    cut = whole_decay(*tones([1.5, 1.0], [1.0, 0.5], seconds=0.4), 0.1, 0.0, SETTINGS)
    assert cut.carried > 0.2


def test_rates_that_changed_leave_a_cut_decay_open():
    """Two pairs that fall as fast in the mean; of one each partial is straight, of the other each bends by half."""
    times_s, straight = tones([2.0, 1.5], [1.0, 0.5], seconds=0.5)
    _, slower = tones([4.0, 3.0], [0.15, 0.07], seconds=0.5)
    bent = replace(straight, power=straight.power + slower.power)
    plain, open_ = (whole_decay(times_s, t, 0.12, 0.0, SETTINGS) for t in (straight, bent))
    assert plain.unsteady == pytest.approx(SETTINGS.least_unsteady, rel=0.1)
    assert open_.unsteady > 1.5 * plain.unsteady
    assert open_.relative > 1.5 * plain.relative


def test_noise_that_falls_by_3_db_an_octave_is_within_the_interval():
    """At a first partial there is 1.6 times what is found half an octave above and below, on the quieter side."""
    times_s, own = tones([1.5], [1.0], noise=1e-3)
    louder = replace(own, power=own.power + 0.6 * own.noise[:, None])
    plain, found = (whole_decay(times_s, t, None, 0.0, SETTINGS) for t in (own, louder))
    error = abs(np.log(found.decay_s / plain.decay_s))
    assert 0.01 < error < found.relative


def test_the_noises_own_chance_is_what_many_draws_scatter_by():
    """A tone in complex noise 50 dB below its start, every value a draw of its own."""
    rng = np.random.default_rng(6)
    times_s, own = tones([1.5], [1.0], noise=1e-5)
    own = replace(own, independent_per_s=1 / SETTINGS.step_s)
    fall = own.power - own.noise[:, None]

    def drawn():
        noise = np.sqrt(0.5e-5) * (rng.standard_normal(fall.shape) + 1j * rng.standard_normal(fall.shape))
        found = whole_decay(times_s, replace(own, power=np.abs(np.sqrt(fall) + noise) ** 2), None, 0.0, SETTINGS)
        return np.log(found.decay_s)

    (line,) = _t20(times_s, own.power[0] - 1e-5, None, (1.0,), SETTINGS)
    heard_n = int(np.sum(own.power[0] > SETTINGS.clear_power * 1e-5))
    energy = _energy(own, heard_n, line.t60_s / NEPERS_60, SETTINGS)
    stated = _by_chance(times_s[:heard_n], own, line, energy, SETTINGS)
    assert np.std([drawn() for _ in range(300)]) == pytest.approx(stated, rel=0.2)


def test_a_sound_that_was_there_before_widens_the_interval():
    """A tone beside the second partial, 50 dB under the pluck, is heard alike after it, whenever it began."""
    spec = PluckSpec(f1_hz=330.0, second_db=-np.inf)

    def beside(samples, from_s):
        t_s = np.arange(len(samples)) / RATE_HZ - LEAD_S
        return samples + np.where(t_s > from_s, 0.08 * 10 ** (-50 / 20) * np.sin(2 * np.pi * 668.0 * t_s), 0.0)

    (there, truth), (since, _) = (heard(spec, channel=lambda x, s=start_s: beside(x, s)) for start_s in (-1.0, 0.03))
    assert there.decay_s == pytest.approx(since.decay_s, rel=1e-3)
    assert there.decay_u95_s > 1.3 * since.decay_u95_s
    assert abs(there.decay_s - truth.decay_s) > since.decay_u95_s
