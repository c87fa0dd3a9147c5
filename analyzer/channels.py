"""Several channels to one: a weight for each.

Task: no string may cancel in the sum, a dead channel must not dilute it, a noisier one should count less.

Method: from glimpses all over the recording, a channel's amplitude a (loud glimpses, noise taken off) and
noise power σ² (quiet glimpses). Channels far below the loudest are dead: weight 0. The others get the
weight a/σ² of maximal-ratio combining (Brennan, Proc. IRE 47 (1959) 1075), with the sign that the first
principal component of their correlation gives, so that an inverted channel is turned round. Microphones far
apart can still cancel single strings whatever the sign: where the sum falls below what unrelated channels
would give in more than a few glimpses, the best channel is used alone. Weights are fixed for the whole
recording, since a changing one would look like decay, and their moduli sum to 1, so that full scale stays
full scale.
"""

import numpy as np
from numpy.typing import NDArray

from analyzer.decoding import Source
from analyzer.settings import RecordingSettings


def channel_weights(source: Source, settings: RecordingSettings) -> NDArray[np.float32]:
    """Weights of shape (channels,), moduli summing to 1."""
    if source.channels == 1:
        return np.ones(1, np.float32)
    moments = [_moments(block) for block in source.glimpses()]
    if not moments:
        return np.full(source.channels, 1 / source.channels, np.float32)
    return weights_from_moments(np.stack(moments), settings)


def weights_from_moments(moments: NDArray[np.float64], settings: RecordingSettings) -> NDArray[np.float32]:
    """Weights from the covariance of each glimpse, shape (glimpses, channels, channels)."""
    power = np.einsum("gcc->gc", moments)
    noise = np.percentile(power, settings.quiet_percentile, axis=0)
    signal = np.percentile(power, settings.loud_percentile, axis=0) - noise
    if signal.max() <= 0:  # nothing changes over time: no sound to tell from noise
        signal = power.mean(axis=0)
    amplitude = np.sqrt(np.maximum(signal, 0))
    noise = np.maximum(noise, 10 ** (settings.least_channel_noise_db / 10))
    alive = amplitude > amplitude.max() * 10 ** (settings.dead_channel_db / 20)
    alone = np.where(alive, amplitude**2 / noise, 0.0)
    best = np.zeros(len(alone))
    best[np.argmax(alone)] = 1.0
    if alive.sum() < 2:
        return best.astype(np.float32)
    scale = np.where(alive, 1 / np.where(alive, amplitude, 1.0), 0.0)
    _, vectors = np.linalg.eigh(moments.mean(axis=0) * np.outer(scale, scale))
    sign = np.sign(vectors[:, -1] * np.sign(vectors[np.argmax(alone), -1] or 1.0))
    weights = np.where(sign == 0, 1.0, sign) * alone / np.where(alive, amplitude, 1.0)
    summed = np.einsum("c,gcd,d->g", weights, moments, weights)
    unrelated = power @ weights**2
    quiet = np.percentile(unrelated, settings.quiet_percentile)
    sounding = unrelated > quiet * 10 ** (settings.sounding_db / 10)
    cancelled = summed < unrelated * 10 ** (settings.cancel_db / 10)
    if np.count_nonzero(cancelled & sounding) > settings.most_cancelled * np.count_nonzero(sounding):
        return best.astype(np.float32)
    return np.asarray(weights / np.abs(weights).sum(), np.float32)


def _moments(block: NDArray[np.float32]) -> NDArray[np.float64]:
    """Covariance about the mean, shape (channels, channels), of one glimpse."""
    with np.errstate(invalid="ignore"):  # samples that are no numbers are dealt with here
        sane = np.nan_to_num(block.astype(np.float64), nan=0.0, posinf=0.0, neginf=0.0)
    sane -= sane.mean(axis=0)
    return sane.T @ sane / len(sane)
