"""How likely a session comes out wrong by chance, where every repetition ends just where it may.

A repetition exactly on the edge is answered "no" with a probability of one minus the decide value. A session has many
of them: their errors are shared in part only, so that the chance that one of all, or more than a few, is answered "no"
is larger. It follows from the same error model that the answers rest on (propagation of distributions, JCGM 101:2008):
given the error that the session shares, sets are independent; given a set's slow error too, repetitions are.
"""

import math
from functools import lru_cache
from statistics import NormalDist

import numpy as np

from imu_rom.dose.conformance import normal_cdf, standard_nodes

__all__ = ["session_by_chance"]

SHARED_NODES, SLOW_NODES = 201, 101


@lru_cache(maxsize=1024)
def session_by_chance(
    u_deg: tuple[float, float, float], sets: int, repetitions: int, *, decide: float, allowed: int
) -> float:
    """Probability that more repetitions than allowed are answered "no", all of them ending exactly on the edge.

    Parameters
    ----------
    u_deg : tuple of float
        Standard uncertainty that the session shares, that a set shares besides, and of the repetition's own.
    sets, repetitions : int
        How many, and in each.
    decide : float
        Probability from which an answer is one.
    allowed : int
        How many may be answered "no".

    Returns
    -------
    float
        From 0 to 1; one minus the decide value where only the session's error counts.
    """
    shared, slow = standard_nodes(SHARED_NODES) * u_deg[0], standard_nodes(SLOW_NODES) * u_deg[1]
    beyond = np.add.outer(shared, slow) - NormalDist().inv_cdf(decide) * math.hypot(*u_deg)
    wrong = normal_cdf(beyond / u_deg[2]) if u_deg[2] > 0 else (beyond > 0).astype(np.float64)
    # of one set, and of all: how many are wrong, given the shared error; more than allowed are not told apart
    counts = range(min(allowed, repetitions) + 1)
    of_set = [(math.comb(repetitions, i) * wrong**i * (1 - wrong) ** (repetitions - i)).mean(axis=1) for i in counts]
    so_far = np.zeros((allowed + 1, SHARED_NODES))
    so_far[0] = 1.0
    for _ in range(sets):
        before, so_far = so_far, np.zeros_like(so_far)
        for i, each in enumerate(of_set):
            so_far[i:] += before[: allowed + 1 - i] * each
    return float(1 - so_far.sum(axis=0).mean())
