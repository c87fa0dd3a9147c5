"""Sampling against a normal law, of which mean and deviation are known."""

import numpy as np
import pytest

from analyzer.sampling import sample

CENTRE, WIDTH = np.array([0.3, 0.6, 0.5]), np.array([0.01, 0.05, 0.02])


@pytest.mark.parametrize("trust", [1.0, 0.25])
def test_a_narrow_normal_law_is_found_with_its_width(trust):
    points, evidence = sample(
        lambda z: -0.5 * np.sum(((z - CENTRE) / WIDTH) ** 2, axis=1),
        3,
        particles_n=512,
        moves_n=4,
        last_n=20,
        trust=trust,
        seed=1,
    )
    width = WIDTH / np.sqrt(trust)
    assert np.all(np.abs(points.mean(axis=0) - CENTRE) < 5 * width / np.sqrt(512) * 2)
    assert points.std(axis=0) == pytest.approx(width, rel=0.2)
    # the integral of a normal law over all space: the product of its deviations and roots of 2π
    assert evidence == pytest.approx(np.log(width * np.sqrt(2 * np.pi)).sum(), abs=0.4)


def test_the_same_seed_gives_the_same_points():
    first, second = (
        sample(lambda z: -z[:, 0], 2, particles_n=32, moves_n=1, last_n=1, trust=1.0, seed=3)[0] for _ in range(2)
    )
    assert np.array_equal(first, second)
