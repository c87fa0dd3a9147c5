"""Losses follow published figures and known laws."""

import numpy as np
import pytest

from analyzer import words
from analyzer.decay import PartialDecay
from analyzer.loss import Loss, against, fit_law, loss_factor, whole_damping
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
    assert law.typical == pytest.approx(air / 3 + internal + 9 * bending, rel=1e-3)
    assert fit_law(partials[:3], SETTINGS) is None


@pytest.mark.parametrize(("hangs_together", "least"), [(0.0, 0.95), (1.2, 0.86)])
def test_a_strings_loss_factor_is_unbiased_and_its_interval_holds_the_laws(hangs_together, least):
    """What a soundboard takes scatters by 0.3, alone or so that neighbouring partials' hang together."""
    rng = np.random.default_rng(3)
    off, held = [], []
    for _ in range(400):
        n = np.arange(1, rng.integers(5, 13))
        air, internal, bending = rng.uniform(0, 2e-3), rng.uniform(2e-4, 2e-3), 10 ** rng.uniform(-7, -5)
        apart = (n[:, None] - n) / (hangs_together or 1e-3)
        taken = 0.3 * np.linalg.cholesky(np.exp(-0.5 * apart**2) + 1e-9 * np.eye(len(n))) @ rng.standard_normal(len(n))
        loss = (air / n + internal + bending * n**2) * np.exp(taken)
        law = fit_law([partial(int(k), 200.0 * k, e) for k, e in zip(n, loss, strict=True)], SETTINGS)
        truth = air / 3 + internal + 9 * bending
        off.append(np.log(law.typical / truth))
        held.append(abs(law.typical - truth) < law.typical_u95)
    assert abs(np.median(off)) < 0.04
    assert np.mean(held) >= least


def test_the_partial_of_the_figure_is_the_one_that_people_are_told():
    assert words.DETAIL["loss"].endswith(f"partial {SETTINGS.typical_number}")


def laws(loss):
    return [Loss(air=0.0, internal=loss, bending=0.0, typical=loss, typical_u95=0.1 * loss) for _ in range(20)]


def test_a_harp_whose_strings_are_all_old_shows_against_physics():
    assert whole_damping(laws(0.001), SETTINGS).high is False
    assert whole_damping(laws(0.004), SETTINGS).high is True
    assert whole_damping(laws(0.004)[:5], SETTINGS).typical_loss is None


def rungs(rng, damping=1.0, shift_cents=0.0, strings=range(20), more=None):
    """Strings a whole tone apart whose partials' T60 scatter by a third, as two real harps' do."""
    out = []
    for k in strings:
        hz = 65.4 * 2 ** (k / 6 + shift_cents / 1200)
        t60_s = {n: 7.0 * (n * hz / 65.4) ** -0.6 * np.exp(rng.normal(0, 0.33)) for n in range(1, 9)}
        factor = damping * (more or {}).get(k, 1.0)
        out.append((hz, {n: t / factor for n, t in t60_s.items()}))
    return out


def test_against_a_reference_all_strings_old_shows_and_the_interval_holds_the_truth():
    rng = np.random.default_rng(1)
    inside = 0
    for _ in range(200):
        found = against(rungs(rng, 2.0, -80.0), rungs(rng), SETTINGS)
        inside += found.low < 2.0 * 2 ** (-80 / 1200 * 0.6) < found.high
        assert found.strings_n == 20
    assert 0.9 <= inside / 200 <= 0.99
    assert found.beyond(1.4)
    assert not against(rungs(rng), rungs(rng), SETTINGS).beyond(1.4)


def test_against_a_reference_single_strings_stand_out_and_too_few_say_nothing():
    rng = np.random.default_rng(2)
    assert against(rungs(rng, more={7: 4.0}), rungs(rng), SETTINGS).more == (7,)
    assert against(rungs(rng, strings=range(5)), rungs(rng), SETTINGS) is None
    other = [(hz * 2 ** (240 / 1200), t) for hz, t in rungs(rng, strings=range(0, 40, 3))]
    assert against(rungs(rng, strings=range(0, 40, 3)), other, SETTINGS) is None
