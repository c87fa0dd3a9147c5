"""A room is told from the strings in it: by its law, on whole harps, and in a room of another law."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from scipy import signal

from analyzer.decay import Decay, PartialDecay
from analyzer.dry import without_room
from analyzer.room import OwnDecay, Room, _grid, apart, courses, moments
from analyzer.settings import Settings
from tests.bench.condition import CLEAN, measured
from tests.synth_harp import harp_recording, harp_strings
from tests.synth_room import Box, absorption, response

SETTINGS = Settings()
ROOM = SETTINGS.room
STRINGS = harp_strings("C4", "A6")


def test_a_tone_in_a_room_is_the_convolution_of_both():
    """The law in closed form against its integral, sum by sum: direct power plus that of a diffuse response."""
    grid = _grid(ROOM)
    step_s = 1e-4
    t_s = step_s * np.arange(round(3 / step_s))
    at = np.searchsorted(t_s, ROOM.first_s + ROOM.step_s * moments(ROOM))
    for a, r, level in ((6, 9, 4), (14, 4, 6)):
        own, room_s = float(np.exp(grid.log_t60[a])), ROOM.rooms_s[r]
        tone = 10 ** (-6 * t_s / own)
        answer = 10 ** (-6 * t_s / room_s)
        answer *= 10 ** (ROOM.levels_db[level] / 10) / answer.sum()
        power = tone + np.convolve(tone, answer)[: len(t_s)]
        energy = np.cumsum(power[::-1])[::-1]
        expected = 10 * np.log10(energy[at] / energy[at[0]])
        found = grid.curve_db[a, r, level] - grid.curve_db[a, r, level, 0]
        seen = expected > -40
        assert found[seen] == pytest.approx(expected[seen], abs=0.2)


def test_a_courses_energy_is_worth_nothing_where_noise_decides():
    t_s = 0.01 * np.arange(150)
    power = np.stack([10 ** (-6 * t_s / t60_s) for t60_s in (0.5, 1.2)]) + 1e-3
    found = courses(power, np.array([1e-3, 1e-3]), np.array([1, 2]), np.array([900.0, 1800.0]), ROOM)
    for curve, worth, t60_s in zip(found.curve_db, found.worth, (0.5, 1.2), strict=True):
        known = worth > 0.5
        assert known[:5].all()
        assert not known[-1]
        slope = np.polyfit(0.01 * moments(ROOM)[known], curve[known], 1)[0]
        assert -60 / slope == pytest.approx(t60_s, rel=0.1)


@cache
def heard(box):
    """The room, and [(decay, own decays found, truth)] of a harp's treble in that box; None: in none."""
    rng, spec = np.random.default_rng(5), replace(CLEAN, box=box)
    take = harp_recording(replace(spec, strings=STRINGS), rng)
    decays = [found for _, found, _ in measured(take, rng)]
    room, own = apart([d.courses for d in decays], ROOM)
    return room, [(d, o, p.note) for d, o, p in zip(decays, own, take.plucks, strict=True)]


def errors(rows, room):
    """ln of T60 over the truth of partials that die twice as fast as the room's 0.5 s: (as heard, without the room)."""
    pairs = []
    for decay, own, note in rows:
        truths = {p.number: p.t60_s for p in note.partials}
        dry = without_room(decay, own, room, ROOM)
        for before, after in zip(decay.partials, dry.partials, strict=True):
            if truths.get(before.number, 9.0) < 0.25 and before.number in own:
                pairs.append([np.log(p.t60_s / truths[p.number]) for p in (before, after)])
    return np.array(pairs).T


def test_partials_shorter_than_the_room_are_read_without_it():
    """In a box (Allen & Berkley, JASA 65 (1979) 943), which is not the law that the program supposes."""
    room, rows = heard(Box())
    assert 0.35 < room.t60_s < 0.9
    assert room.level_db > ROOM.heard_db
    as_heard, without = errors(rows, room)
    assert len(as_heard) > 15
    assert np.median(as_heard) > 0.3
    assert abs(np.median(without)) < 0.5 * np.median(as_heard)


def test_without_a_room_hardly_one_is_heard_and_decays_stay_as_they_are():
    room, rows = heard(None)
    assert room.level_db <= ROOM.heard_db
    for decay, own, _ in rows:
        dry = without_room(decay, own, room, ROOM)
        assert (dry.decay_s, dry.decay_u95_s) == (decay.decay_s, decay.decay_u95_s)


def test_a_room_widens_the_interval_of_what_it_outlasts():
    room, rows = heard(Box())
    wider = []
    for decay, own, note in rows:
        dry = without_room(decay, own, room, ROOM)
        assert dry.decay_s == decay.decay_s
        if decay.decay_s is not None:
            wider.append((note.decay_s, dry.decay_u95_s / dry.decay_s))
    truth_s, relative = np.array(wider).T
    assert np.corrcoef(np.log(truth_s), np.log(relative))[0, 1] < -0.5
    assert relative.min() > 0.02


def test_a_room_doubts_what_hangs_on_its_partials_powers():
    """It changes them by chance: a decay that hangs on none is hardly in doubt where it outlasts the room."""
    decay = Decay(
        decay_s=5.0, decay_u95_s=0.05, cut=False, partials=(), curve_db=(), level_db=-20.0, reason="", balance=0.0
    )
    room = Room(t60_s=0.5, level_db=-12.0)
    plain, hanging = (without_room(d, {}, room, ROOM).decay_u95_s for d in (decay, replace(decay, balance=0.1)))
    amplitude = 10 ** (-12 / 20)
    assert plain == pytest.approx(5.0 * np.hypot(0.01, amplitude * ROOM.doubt_late * 0.1))
    assert hanging == pytest.approx(np.hypot(plain, 5.0 * amplitude * ROOM.doubt_early * 0.1))


def test_a_few_strings_show_no_room():
    _, rows = heard(None)
    room, own = apart([rows[0][0].courses, None], ROOM)
    assert room is None
    assert own == ({}, {})


def test_a_box_dies_as_its_walls_have_it():
    """Eyring's formula against the images' energy above 200 Hz: a bare box rings a little longer than that says
    (Lehmann & Johansson, JASA 124 (2008) 269)."""
    box = Box(t60_s=(0.5, 0.5))
    assert absorption(box, 0.5) == pytest.approx(1 - np.exp(-0.161 * 42.55 / (75.54 * 0.5)), rel=1e-3)
    high = signal.butter(2, 200, "highpass", fs=22050, output="sos")
    heard_there = signal.sosfilt(high, response(box, 22050, np.random.default_rng(1)))
    energy = np.cumsum(heard_there[::-1] ** 2)[::-1]
    curve_db = 10 * np.log10(energy / energy[0])
    part = (curve_db < -12) & (curve_db > -30)
    slope = np.polyfit(np.flatnonzero(part) / 22050, curve_db[part], 1)[0]
    assert -60 / slope == pytest.approx(0.5, rel=0.25)


def test_a_faint_room_is_taken_off_only_what_it_outlasts():
    """A partial heard to ring 1.2 times as long as the room is its own but where the room is loud."""
    partial = PartialDecay(
        number=3,
        frequency_hz=1500.0,
        t60_s=0.6,
        t60_log_deviation=0.2,
        late_t60_s=None,
        level_db=-30.0,
        range_db=25.0,
    )
    decay = Decay(
        decay_s=None, decay_u95_s=None, cut=False, partials=(partial,), curve_db=(), level_db=-20.0, reason="short"
    )
    own = {3: OwnDecay(t60_s=0.3, log_deviation=0.4)}
    for level_db, t60_s in ((-16.0, 0.6), (-8.0, 0.3)):
        assert without_room(decay, own, Room(t60_s=0.5, level_db=level_db), ROOM).partials[0].t60_s == t60_s
    shorter = replace(decay, partials=(replace(partial, t60_s=0.45),))
    assert without_room(shorter, own, Room(t60_s=0.5, level_db=-16.0), ROOM).partials[0].t60_s == 0.3
