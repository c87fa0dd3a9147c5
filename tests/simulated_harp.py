"""A simulated harp that gives way, creeps and breaks, to follow plans on. Invented values, stated physics.

- Tension from pitch: T = 4·µ·L²·f², so T/T_full = 2^(cents/600). Lengths, masses and materials are those of the
  built-in layout (generic estimates).
- Soundboard: a plank that bends where the strings pull. A tension rise dT of string k moves the board at string j
  towards the strings by G·dT·exp(−|j − k|/reach), plus a part that moves the whole board. The string gets shorter by
  that much of its length, and loses stiffness_j times as much tension: a string's tension changes with its length
  as E·A/L, that is by (E/stress) of its tension for each share of length, so that taut wire falls less than its
  stiffness alone suggests and gut most in the treble. `give` sets how much in all.
- Creep: after each turn upward a string goes on stretching, by `creep` of the raise times log10(1 + t/1 min), as
  polymers do over decades of time (logarithmic law, our choice: no law is published for harp strings); what several
  raises cause adds up (Boltzmann's superposition); the raise that fits a new string counts four times.
- Breaking: a string breaks when its stress passes its material's breaking stress, and is counted as overloaded when
  its tension exceeds its full tension. From each `sitting` on, how far each string and the whole harp come above
  where it found them is kept, to be held against the limits of a pass.
- The hand: a pin is set to its figure within `hand_cents` (uniform). The survey measures within `survey_cents`
  (normal).
"""

import math
import random
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from analyzer.layout import Layout
from analyzer.load import harp_load, share_of_full
from analyzer.tuning import Tuning

DAY_MIN = 24 * 60.0
NEW = 4.0
"""How much more a new string creeps."""


@dataclass(kw_only=True)
class SimulatedHarp:
    layout: Layout
    tuning: Tuning
    cents: list[float | None]
    give_cents: float = 150.0
    """Mean fall of a string as the full load is added, over all strings."""
    reach_n: float = 6.0
    local_share: float = 0.5
    creep: float = 0.01
    hand_cents: float = 0.5
    survey_cents: float = 0.3
    seed: int = 1
    broken: set[str] = field(default_factory=set)
    overloaded: set[str] = field(default_factory=set)
    largest_turn_cents: float = 0.0
    turns_n: int = 0

    def __post_init__(self) -> None:
        self.names = [s.string for s in self.layout.strings]
        load = harp_load(self.layout, self.tuning.targets, {})
        self.full_n = [row.full_tension_n or 100.0 for row in load.strings]
        self.breaking = [1.0 / row.breaking_share if row.breaking_share else math.inf for row in load.strings]
        """Tension at breaking over full tension."""
        n = len(self.names)
        kernel = [[math.exp(-abs(i - j) / self.reach_n) for j in range(n)] for i in range(n)]
        total_n = sum(self.full_n)
        soft = [_softness(s.material, i / n) for i, s in enumerate(self.layout.strings)]
        local = [sum(kernel[j][k] * self.full_n[k] for k in range(n)) for j in range(n)]
        self.fall = np.array(
            [
                [
                    self.give_cents
                    * soft[j]
                    * (self.local_share * kernel[j][k] / local[j] + (1 - self.local_share) / total_n)
                    for k in range(n)
                ]
                for j in range(n)
            ]
        )
        """[n, n] cents that string j falls for each newton added on string k."""
        self.rng = random.Random(self.seed)
        self.raises: list[tuple[int, float, float]] = []
        """Each raise: string, cents times its creep factor, minute."""
        self.now_min = 0.0
        self.sitting()

    def sitting(self) -> None:
        """A sitting begins: what is raised is counted from here."""
        self.began = list(self.cents)
        self.began_n = self.load_n()
        self.most_load = 0.0
        """Most that the sitting has added to the harp, share of its full load."""
        self.most_added = [(0.0, 0.0)] * len(self.names)
        """Most that it has raised each string: cents, share of its full tension."""

    def load_n(self) -> float:
        return sum(self.tension_n(i) for i in range(len(self.names)))

    def tension_n(self, i: int) -> float:
        level = self.cents[i]
        return 0.0 if level is None else self.full_n[i] * share_of_full(level)

    def turn(self, string: str, to_cents: float, most_cents: float = math.inf) -> None:
        """Set a pin so that its string stands at `to_cents`, but raise it by no more than `most_cents`."""
        i = self.names.index(string)
        before_n, before = self.tension_n(i), self.cents[i]
        goal = to_cents + self.rng.uniform(-self.hand_cents, self.hand_cents)
        if before is not None:
            goal = min(goal, before + most_cents)
            self.largest_turn_cents = max(self.largest_turn_cents, abs(goal - before))
        goal = min(goal, 0.0) if before is None or goal > before else goal
        up = 200.0 * NEW if before is None else goal - before
        if up > 0.0:
            self.raises.append((i, up, self.now_min))
        self.cents[i] = goal
        self.turns_n += 1
        self._count(i, goal)
        added_n = self.tension_n(i) - before_n
        fall = self.fall[:, i] * added_n
        self.cents = [c if c is None or j == i else c - float(fall[j]) for j, c in enumerate(self.cents)]
        self.most_load = max(self.most_load, (self.load_n() - self.began_n) / sum(self.full_n))
        self.wait(1.0)

    def _count(self, i: int, level: float) -> None:
        share = share_of_full(level)
        if share > self.breaking[i]:
            self.broken.add(self.names[i])
        if share > 1.0 + 1e-9:
            self.overloaded.add(self.names[i])
        if (began := self.began[i]) is not None:
            cents, added = self.most_added[i]
            self.most_added[i] = max(cents, level - began), max(added, share - share_of_full(began))

    def wait(self, minutes: float) -> None:
        """Let the strings stretch on."""
        if self.raises and self.creep:
            place, up, at = (np.array(column) for column in zip(*self.raises, strict=True))
            decades = np.log10(1 + self.now_min + minutes - at) - np.log10(1 + self.now_min - at)
            lost = np.bincount(place, self.creep * up * decades, len(self.names))
            self.cents = [None if c is None else c - float(x) for c, x in zip(self.cents, lost, strict=True)]
        self.now_min += minutes

    def off(self, string: str) -> float | None:
        """What a tuner shows of one string, to its tenth of a cent."""
        level = self.cents[self.names.index(string)]
        return None if level is None else round(level, 1)

    def measured(self) -> Mapping[str, float | None]:
        """What a survey would read."""
        return {
            name: None if c is None else c + self.rng.gauss(0.0, self.survey_cents)
            for name, c in zip(self.names, self.cents, strict=True)
        }

    def worst_cents(self) -> float:
        return max(abs(c) if c is not None else math.inf for c in self.cents)


def _softness(material: str, place: float) -> float:
    """How much a string falls against the mean: stiff wire more for its stretch, the short treble strings more."""
    return (1.3 if material in ("wire", "steel", "brass") else 0.8) + 0.3 * place


def slack(layout: Layout, base_cents: float, scatter_cents: float, seed: int) -> list[float | None]:
    """A harp left alone: the bass sunk most, neighbours alike, each with a scatter of its own."""
    rng = random.Random(seed)
    n = len(layout.strings)
    return [base_cents * (1.15 - 0.3 * i / n) + rng.uniform(-scatter_cents, scatter_cents) for i in range(n)]
