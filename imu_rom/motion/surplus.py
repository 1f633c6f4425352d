"""Standing that looks like a repetition: told from one where there is one more than prescribed.

Coming down to stand for a while and going up again is a movement out of the start position and back, as a short
repetition is. It stops near the neutral pose's angle instead of where the others do, and often lasts longer; that is
not enough to take a movement out, since a tired person's repetition may be like it. The prescribed number decides.
"""

import itertools
from collections.abc import Iterable
from dataclasses import replace

import numpy as np

from imu_rom.motion.repetitions import Repetition, RepetitionSet, regrouped

__all__ = ["parted_where_stood", "without_surplus"]

# The person stands where the angle is this near to the neutral pose's; weight shifts move it.
STANDING_DEG = 5.0
# It falls short of the others' end range by more than these degrees and so many times their spread; or at all, where it
# takes less than this share of their time, since coming down to stand is no exercise.
SHORT_OF_DEG, SHORT_OF_SPREADS = 3.0, 2.5
HASTY = 0.7
# It takes this many times as long as a repetition usually does.
LONGER = 1.1


def _stands(done: RepetitionSet) -> list[bool]:
    """Tell which repetitions may be standing: near the neutral pose's angle, clearly short of the others or hasty."""
    ends = np.array([each.end_range_deg for each in done.repetitions])
    short = np.median(ends) - ends
    spread = 1.4826 * float(np.median(np.abs(short)))
    ways_s = np.array([each.eccentric_s for each in done.repetitions])
    shallow = short > max(SHORT_OF_DEG, SHORT_OF_SPREADS * spread)
    hasty = (short > 0) & (ways_s < HASTY * np.median(ways_s))
    found = (np.abs(ends) < STANDING_DEG) & (shallow | hasty)
    return [bool(each) for each in found]


def _stood(done: RepetitionSet) -> list[tuple[int, int]]:
    """Find runs of such repetitions inside a set that take longer than one does: (first, after), longest run first."""
    stands, times = _stands(done), [(each.start_s, each.stop_s) for each in done.repetitions]
    edges = np.flatnonzero(np.diff(np.concatenate([[0], np.array(stands, dtype=np.int8), [0]])))
    # from the repetition before to the one after, with the waits on both sides
    usual_s = float(np.median([after[0] - before[1] for before, after in zip(times, times[2:], strict=False)] or [0.0]))
    runs = []
    for first, after in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
        if first > 0 and after < len(stands):
            takes_s = times[after][0] - times[first - 1][1]
            if takes_s > LONGER * usual_s:
                runs.append((takes_s, first, after))
    return [(first, after) for _, first, after in sorted(runs, reverse=True)]


def _parts(done: RepetitionSet, runs: Iterable[tuple[int, int]]) -> list[tuple[Repetition, ...]]:
    parts, begin = [], 0
    for first, after in sorted(runs):
        parts.append(done.repetitions[begin:first])
        begin = after
    return [*parts, done.repetitions[begin:]]


def parted_where_stood(
    sets: list[RepetitionSet], prescribed_repetitions: int, complete_share: float
) -> list[RepetitionSet]:
    """Take standing between repetitions for a rest where a set has more repetitions than prescribed.

    Parameters
    ----------
    sets : list of RepetitionSet
        As found.
    prescribed_repetitions : int
        As the plan says.
    complete_share : float
        A repetition is complete from this share of its set's median excursion.

    Returns
    -------
    list of RepetitionSet
        Parted where the person stood longest, until no part has more than prescribed. Where what is left of a set is
        just what was prescribed, it stays one set with the pause named in its interruptions.
    """
    found = []
    for done in sets:
        runs = _stood(done) if done.complete_count > prescribed_repetitions else []
        tries = [_parts(done, runs[: count + 1]) for count in range(len(runs))]
        whole = [parts for parts in tries if sum(map(_complete, parts)) == prescribed_repetitions]
        apart = [parts for parts in tries if max(map(_complete, parts)) <= prescribed_repetitions]
        if whole:
            pauses = [(before[-1].stop_s, after[0].start_s) for before, after in itertools.pairwise(whole[0])]
            everything = [each for part in whole[0] for each in part]
            found.append(regrouped(everything, tuple(sorted([*done.interruptions, *pauses])), complete_share))
        elif tries:
            found += [regrouped(part, (), complete_share) for part in (apart or tries[-1:])[0]]
        else:
            found.append(done)
    return found


def _complete(repetitions: Iterable[Repetition]) -> int:
    return sum(each.complete for each in repetitions)


def without_surplus(sets: list[RepetitionSet], prescribed_repetitions: int) -> list[RepetitionSet]:
    """Take a set's first or last movement for the way from or to standing where it is one too many.

    A last movement into end range after which the person stays there may be a repetition (to the floor, and the set is
    over) or the way back to standing; a shallow one at a set's ends that stops at the neutral pose's angle may be a
    short repetition or a stop on that way. Nothing in the movement tells which.

    Parameters
    ----------
    sets : list of RepetitionSet
        As found.
    prescribed_repetitions : int
        As the plan says.

    Returns
    -------
    list of RepetitionSet
        Without such movements where they would be more repetitions than prescribed.
    """
    return [_without_surplus(each, prescribed_repetitions) for each in sets]


def _without_surplus(done: RepetitionSet, prescribed_repetitions: int) -> RepetitionSet:
    repetitions, stands = list(done.repetitions), _stands(done)
    for end in (-1, 0):
        if _complete(repetitions) <= prescribed_repetitions:
            break
        if repetitions[end].stays or stands[end]:
            repetitions.pop(end)
            stands.pop(end)
    return replace(done, repetitions=tuple(repetitions))
