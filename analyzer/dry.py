"""One pluck's decay with what is known of the room: partials without it, the whole with what it leaves in doubt.

Task. From a decay as heard and what `room` found: the partials' own decay times in place of those heard, and a wider
interval of `decay_s`. That is not corrected: how much of its late part is the room's is known too badly (on synthetic
harps a correction made as many decays worse as better).

Method. A room is no echo alone: at each frequency its response adds to the direct sound or takes from it, so that the
partials' powers change by chance. A decay made of partials that die unlike hangs on them (`Decay.balance`); one that a
single partial carries does not. And what builds up or stays behind bends each partial's course, the more, the longer
the room rings beside the string.

Conventions. As in `decay`.
"""

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from analyzer.decay import Decay
from analyzer.room import OwnDecay, Room
from analyzer.settings import RoomSettings


def without_room(heard: Decay, own: Mapping[int, OwnDecay], room: Room, settings: RoomSettings) -> Decay:
    """The decay with the room considered; `own` by the partials' numbers. It keeps no courses."""
    s = settings
    shorter_s = room.t60_s * (s.matters_loud if room.level_db >= s.loud_db else s.matters)
    partials = tuple(
        replace(p, t60_s=own[p.number].t60_s, t60_log_deviation=own[p.number].log_deviation)
        if p.number in own and p.t60_s < shorter_s
        else p
        for p in heard.partials
    )
    u95_s = heard.decay_u95_s
    if heard.decay_s is not None and u95_s is not None and room.level_db > s.heard_db:
        early, late = s.doubt_early * heard.balance, s.doubt_late * room.t60_s / heard.decay_s
        doubt = 10 ** (room.level_db / 20) * float(np.hypot(early, late))
        u95_s = heard.decay_s * min(float(np.hypot(u95_s / heard.decay_s, doubt)), s.most_relative)
    return replace(heard, partials=partials, decay_u95_s=u95_s, courses=None)
