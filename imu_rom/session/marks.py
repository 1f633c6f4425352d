"""A person's corrections to what was found, by time: strike, join, split."""

import itertools
from collections.abc import Sequence

from imu_rom.errors import CannotAnswerError
from imu_rom.motion.repetitions import RepetitionSet, regrouped
from imu_rom.session.result import Mark

__all__ = ["apply_marks"]


def apply_marks(sets: Sequence[RepetitionSet], marks: Sequence[Mark], complete_share: float) -> list[RepetitionSet]:
    """Apply corrections in their order.

    Parameters
    ----------
    sets : sequence of RepetitionSet
        As found.
    marks : sequence of Mark
        ``strike`` removes the repetitions whose end range lies in the stretch; ``join`` makes one set of all that the
        stretch touches; ``split`` parts the set at the middle of the stretch.
    complete_share : float
        Share of the set's median excursion from which a repetition is complete.

    Returns
    -------
    list of RepetitionSet
        Corrected; complete and partial are told anew within each changed set.

    Raises
    ------
    CannotAnswerError
        A mark touches nothing, so it was made for something else.
    """
    current = list(sets)
    for mark in marks:
        if mark.action == "hold":
            raise CannotAnswerError(
                "the mark 'hold' is for exercises of kind hold or stretch",
                where=f"{mark.start_s:g}:{mark.stop_s:g} s",
                do="say the kind in the plan, or take the mark out",
            )
        changed = _applied(current, mark, complete_share)
        if changed is None:
            raise CannotAnswerError(
                f"the mark {mark.action!r} touches {'no repetition' if mark.action == 'strike' else 'no such sets'}",
                where=f"{mark.start_s:g}:{mark.stop_s:g} s",
                do="take the marks that were made on this result",
            )
        current = changed
    return current


def _applied(sets: list[RepetitionSet], mark: Mark, complete_share: float) -> list[RepetitionSet] | None:
    touched = [each for each in sets if each.start_s < mark.stop_s and each.stop_s > mark.start_s]
    if mark.action == "strike":
        changed = []
        for one in sets:
            left = [each for each in one.repetitions if not mark.start_s <= each.end_range_s <= mark.stop_s]
            if len(left) == len(one.repetitions):
                changed.append(one)
            elif left:
                changed.append(regrouped(left, one.interruptions, complete_share))
        before, after = (sum(len(each.repetitions) for each in group) for group in (sets, changed))
        return None if before == after else changed
    if mark.action == "join":
        if len(touched) < 2:
            return None
        repetitions = [each for one in touched for each in one.repetitions]
        pauses = [pause for one in touched for pause in one.interruptions]
        pauses += [(first.stop_s, second.start_s) for first, second in itertools.pairwise(touched)]
        whole = regrouped(repetitions, tuple(sorted(pauses)), complete_share)
        return [whole if each is touched[0] else each for each in sets if each not in touched[1:]]
    middle = (mark.start_s + mark.stop_s) / 2
    changed, parted = [], False
    for one in sets:
        halves = [[each for each in one.repetitions if (each.end_range_s < middle) is first] for first in (True, False)]
        if all(halves):
            parted = True
            changed += [
                regrouped(
                    half,
                    tuple(p for p in one.interruptions if half[0].start_s < p[0] < half[-1].stop_s),
                    complete_share,
                )
                for half in halves
            ]
        else:
            changed.append(one)
    return changed if parted else None
