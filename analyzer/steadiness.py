"""Decays that were cut, with what the other strings of the recording say about what was not heard of them.

Task. A decay cut early is carried on at the rates heard so far. How far that goes wrong depends on how much a harp's
partials change their rates: synthetic strings hardly, a concert harp's by a factor of two from the first to the second
half of what is heard of them. One string may look steady by chance until its slow second plane of vibration is left
(JASA 150 (2021) 4375); so what all strings of the recording usually do counts as well.

Conventions. As in `decay`.
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from analyzer.decay import Decay
from analyzer.settings import DecaySettings


def with_usual(decays: Sequence[Decay | None], settings: DecaySettings) -> tuple[Decay | None, ...]:
    """The decays with wider intervals where not all of their 25 dB were heard (`Decay.carried`); as they are where too
    few strings say what is usual."""
    s = settings
    unsteady = [d.unsteady for d in decays if d is not None and d.decay_s is not None]
    if len(unsteady) < s.least_usual:
        return tuple(decays)
    doubt = s.coverage * float(np.median(unsteady))
    out = []
    for d in decays:
        if d is not None and d.decay_s is not None and d.decay_u95_s is not None:
            relative = float(np.hypot(d.decay_u95_s / d.decay_s, doubt * d.carried))
            d = replace(d, decay_u95_s=d.decay_s * min(relative, s.most_relative))
        out.append(d)
    return tuple(out)
