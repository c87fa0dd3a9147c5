"""A real room's early echoes: the image-source model of a box (Allen & Berkley, JASA 65 (1979) 943).

Unlike the exponential noise of `synth_sounds.in_room` it has single reflections, a build-up, walls that take more of
the treble, and a decay that is not quite one exponential. Lengths in metres, from memory what a living room has.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import signal

Samples = NDArray[np.float64]

SOUND_M_PER_S = 343.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Box:
    """A furnished room with a harp and a microphone in it."""

    size_m: tuple[float, float, float] = (4.6, 3.7, 2.5)
    harp_m: tuple[float, float, float] = (1.7, 1.3, 0.9)
    distance_m: float = 0.5
    """From the harp to the microphone, in a direction drawn at random."""
    t60_s: tuple[float, float] = (0.55, 0.4)
    """Below and above 1.5 kHz, by Eyring's formula."""


def absorption(box: Box, t60_s: float) -> float:
    """Share of the energy that each reflection takes, by Eyring: T60 = 0.161·V/(-S·ln(1 - a))."""
    x, y, z = box.size_m
    return float(1 - np.exp(-0.161 * x * y * z / (2 * (x * y + y * z + z * x) * t60_s)))


def response(box: Box, rate_hz: int, rng: np.random.Generator) -> Samples:
    """The room's response, the direct sound first and 1."""
    direction = rng.standard_normal(3)
    heard_m = np.array(box.harp_m) + box.distance_m * direction / np.linalg.norm(direction)
    heard_m = np.clip(heard_m, 0.2, np.array(box.size_m) - 0.2)
    longest_s = max(box.t60_s)
    reach = [int(np.ceil(longest_s * SOUND_M_PER_S / (2 * size))) for size in box.size_m]
    along = []
    for size, source, ear, n in zip(box.size_m, box.harp_m, heard_m, reach, strict=True):
        order = np.arange(-n, n + 1)
        apart_m = np.concatenate([2 * order * size + source - ear, 2 * order * size - source - ear])
        along.append((apart_m, np.concatenate([np.abs(2 * order), np.abs(2 * order - 1)])))
    (dx, nx), (dy, ny), (dz, nz) = along
    far_m = np.sqrt(dx[:, None, None] ** 2 + dy[:, None] ** 2 + dz**2).ravel()
    bounces = (nx[:, None, None] + ny[:, None] + nz).ravel()
    # Walls that are not quite flat: without it a box whistles
    far_m = np.where(bounces > 0, far_m + 0.03 * rng.standard_normal(far_m.size), far_m)
    direct_m = float(far_m[bounces == 0][0])
    at_n = np.rint((far_m - direct_m) / SOUND_M_PER_S * rate_hz).astype(int)
    length_n = int(longest_s * rate_hz)
    near = (at_n >= 0) & (at_n < length_n)
    bands = []
    for t60_s in box.t60_s:
        strength = direct_m / far_m * (1 - absorption(box, t60_s)) ** (bounces / 2)
        bands.append(np.bincount(at_n[near], strength[near], length_n))
    split = signal.butter(1, 1500, "lowpass", fs=rate_hz, output="sos")
    return np.asarray(signal.sosfilt(split, bands[0]) + bands[1] - signal.sosfilt(split, bands[1]))


def in_box(samples: Samples, box: Box, rate_hz: int, rng: np.random.Generator) -> Samples:
    """The sound as it is heard in the room."""
    return np.asarray(signal.oaconvolve(samples, response(box, rate_hz, rng)))[: samples.size]
