"""How well what was heard agrees with what a string would sound like: the likelihoods that `matching` reads from.

Every value is against "every pitch alike": 1 says nothing. Pitches are on a grid in cents above
`MatchSettings.lowest_hz`; scatter about an expected pitch is a convolution over that grid.
"""

import numpy as np
from numpy.typing import NDArray

from analyzer.evidence import Evidence
from analyzer.settings import MatchSettings

Array = NDArray[np.float64]


def pitch_ratios(evidence: tuple[Evidence, ...], s: MatchSettings) -> Array:
    """(N, P) likelihood of each pitch of the grid against "every pitch alike"."""
    span = 1200 * np.log2(s.highest_hz / s.lowest_hz)
    grid = np.arange(0, span, s.grid_cents)
    out = np.full((len(evidence), len(grid)), s.stray)
    for row, e in zip(out, evidence, strict=True):
        if not e.pitches_hz:
            continue
        centre = 1200 * np.log2(np.array(e.pitches_hz) / s.lowest_hz)
        wide = np.hypot(np.array(e.spread_cents), s.grid_cents / 2)
        kernel = np.exp(-0.5 * ((grid[None, :] - centre[:, None]) / wide[:, None]) ** 2) / (
            wide[:, None] * np.sqrt(2 * np.pi)
        )
        row += (1 - s.stray) * span * _shares(e) @ kernel
    return out


def sameness(evidence: tuple[Evidence, ...], s: MatchSettings) -> Array:
    """(N, N) likelihood that event t has the pitch of event u and is plucked anew, against "every pitch alike".

    Filled for the few events u before t that a repeat or a slip can reach.
    """
    span = 1200 * np.log2(s.highest_hz / s.lowest_hz)
    shares = [_shares(e) for e in evidence]
    cents = [1200 * np.log2(np.array(e.pitches_hz)) for e in evidence]
    out = np.full((len(evidence), len(evidence)), s.stray)
    for t, e in enumerate(evidence):
        for u in range(max(0, t - s.ages_n), t):
            if not (e.pitches_hz and evidence[u].pitches_hz):
                continue
            wide = np.hypot.outer(np.array(e.spread_cents), np.hypot(np.array(evidence[u].spread_cents), s.same_cents))
            alike = np.exp(-0.5 * (np.subtract.outer(cents[t], cents[u]) / wide) ** 2) / (wide * np.sqrt(2 * np.pi))
            softer_db = np.subtract.outer(np.array(evidence[u].tones_db), np.array(e.tones_db)).T
            anew = 1 / (1 + np.exp(np.clip((softer_db - s.softer_db) / s.softer_scale_db, -50, 50)))
            out[t, u] += (1 - s.stray) * span * float(shares[t] @ (alike * anew) @ shares[u])
    return out


def _shares(e: Evidence) -> Array:
    weight = np.exp(np.array(e.log_likelihoods))
    return np.asarray(weight / max(float(weight.sum()), 1e-300))


def scattered(ratios: Array, s: MatchSettings) -> Array:
    """(scatters, N, P) likelihood given where a string is expected: its own scatter, strays and an octave low."""
    size = ratios.shape[1]
    x = (np.arange(2 * size - 1) - (size - 1)) * s.grid_cents
    length = 1 << int(np.ceil(np.log2(3 * size)))
    spectrum = np.fft.rfft(ratios, length, axis=1)
    out = []
    for scatter, _, _ in s.scatters:
        kernel = np.zeros(len(x))
        for share, centre, wide in (
            (1 - s.far_share - s.octave_share - s.lost_share, 0.0, max(scatter, s.grid_cents / 2)),
            (s.far_share, 0.0, s.far_cents + s.far_scatters * scatter),
            (s.octave_share, -1200.0, s.octave_wide_cents),
        ):
            bell = np.exp(-0.5 * ((x - centre) / wide) ** 2)
            kernel += share * bell / bell.sum()
        lost = ((x > s.lost_lowest_cents) & (x < s.lost_highest_cents)).astype(float)
        kernel += s.lost_share * lost / lost.sum()
        # what is expected at p is heard at p + x: correlation, hence the reversed kernel
        full = np.fft.irfft(spectrum * np.fft.rfft(kernel[::-1], length), length, axis=1)
        out.append(np.maximum(full[:, size - 1 : 2 * size - 1], 1e-12))
    return np.array(out)
