"""Plans followed on many simulated harps: how many passes they take, against the fewest that the limits allow.

Run `python -m tests.bench.plans [HARPS] [SEED]` from the repository. The harps are drawn at random and none is left
out: layout, depth from 40 to 700 cents, unevenness, how much the soundboard gives way (0 to 350 cents for the full
load: a piano technicians' list, 2006, says 90 to 350), creep, missing strings, strings an octave low, gentle plans.
The physics are in tests/simulated_harp.py, the two bounds in `passes_bound` and `stretching_bound`.

Each row is one bound: harps, those within 1.3 times it, the same when each sitting counts that only sets right what
has stretched, and the most passes taken. Then every harp that is not within 1.3 times the bound with stretching, in
full, and whether the limits left it room: "no room" where limits lower by `ROOM` would ask for a pass more. Up to a
bound of 3, 1.3 times it is the bound itself: there every pass has to be full to the last cent.
"""

import random
import sys
import time
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import replace

from tests.following import ANSWERS, Case, Outcome, follow, harp_of

LAYOUTS = ("lever-22-C3-C6", "lever-34", "lever-34-heavy", "lever-36", "lever-36-heavy", "pedal-40-A1-E7", "pedal-47")


def drawn(harps_n: int, seed: int) -> Iterator[Case]:
    """Harps at random."""
    rng = random.Random(seed)
    for n in range(harps_n):
        yield Case(
            layout=rng.choice(LAYOUTS),
            base_cents=-rng.uniform(40.0, 700.0),
            scatter_cents=rng.choice((5.0, 20.0, 50.0)),
            give_cents=rng.choice((0.0, 90.0, 150.0, 200.0, 350.0)),
            creep=rng.choice((0.0, 0.005, 0.01, 0.02)),
            missing_n=rng.choice((0, 0, 0, 1, 3)),
            octave_low_n=rng.choice((0, 0, 0, 0, 1)),
            gentle=rng.random() < 0.1,
            seed=1000 * seed + n,
        )


def within(outcome: Outcome) -> bool:
    return outcome.passes <= 1.3 * outcome.stretching_bound


def followed(case: Case) -> Outcome:
    return follow(harp_of(case), replace(ANSWERS, gentle=case.gentle or None))


def main(harps_n: int = 400, seed: int = 1) -> None:
    began = time.process_time()
    done = [(case, followed(case)) for case in drawn(harps_n, seed)]
    for title, bound_of in (
        ("bound of the limits alone", lambda o: o.bound),
        ("bound with stretching", lambda o: o.stretching_bound),
    ):
        rows: dict[int, list[Outcome]] = defaultdict(list)
        for _, outcome in done:
            rows[bound_of(outcome)].append(outcome)
        print(f"{title:>26}   harps   within 1.3   with re-tunings   most passes")
        for bound, some in [*sorted(rows.items()), (0, [o for _, o in done])]:
            inside = sum(o.passes <= 1.3 * bound_of(o) for o in some)
            strictly = sum(o.passes + o.retunings <= 1.3 * bound_of(o) for o in some)
            name = bound or "all"
            print(f"{name:>26}   {len(some):5}   {inside:10}   {strictly:15}   {max(o.passes for o in some):11}")
    outcomes = [o for _, o in done]
    print(f"worst {max(o.worst_cents for o in outcomes):.2f} cents; broken {sum(o.broken for o in outcomes)}")
    print(f"overloaded {sum(o.overloaded for o in outcomes)}")
    print(f"load added in a sitting: up to {max(o.load_over for o in outcomes):.3f} of its limit")
    print(f"a string: up to {max(o.own_over_cents for o in outcomes):.1f} cents over its own limits")
    print(f"{time.process_time() - began:.0f} s")
    for case, outcome in done:
        if not within(outcome):
            room = "no room" if outcome.bound_with_room > outcome.stretching_bound else "ROOM"
            print(f"{room}: {case}\n    {outcome}")


if __name__ == "__main__":
    main(*(int(word) for word in sys.argv[1:]))
