"""Joint angle to repetitions to sets.

A repetition leaves the start position, reaches end range, dwells there or not, and comes back. Its window comes from
turning points and from shares of its own excursion, which a shift of the zero does not move.

All angles here are in degrees, positive towards end range, at a low rate (about 25 Hz).
"""

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from imu_rom.motion.end_range import estimate_end_range
from imu_rom.motion.excursion_shape import Excursion, gaussian_smooth
from imu_rom.motion.excursions import find_excursion_groups
from imu_rom.settings import RepetitionSettings

__all__ = [
    "Repetition",
    "RepetitionSet",
    "find_sets",
    "join_interrupted",
    "measured_sets",
    "regrouped",
]

Floats = NDArray[np.float64]

SMOOTH_S = 0.08
# Ramps between 10 and 90 % of the excursion: share of the whole ramp's time, and ratio of the middle half's time to it.
# A steady (linear) ramp shows by the ratio. From a minimum-jerk one (share 0.506; Flash and Hogan 1985,
# doi:10.1523/JNEUROSCI.05-07-01688.1985) to one half-way to steady (0.669) the ratio stays at 0.55, so that nothing
# between 10 and 90 % tells them apart: the share between them serves for both, to within 15 %.
STEADY_SHARE, STEADY_RATIO = 0.800, 0.625
USUAL_SHARE, USUAL_RATIO = 0.580, 0.560


@dataclass(frozen=True)
class Repetition:
    """One movement from the start position into end range and back.

    Indices refer to samples of the joint angle; times are seconds from the recording's start, between samples.

    Parameters
    ----------
    start_s, end_range_s, stop_s : float
        Leaving the start position, the deepest point, back at the start position.
    hold_start_s, hold_stop_s : float
        The dwell around the deepest point; the same instant where there is none.
    end_range_deg : float
        Angle of the deepest point, without noise bias.
    end_range_uncertainty_deg : float
        Standard uncertainty of that estimate alone (noise), without zero and other shared parts.
    held_deg : float or None
        Median angle within 2 degrees of the end range where that is held for 0.3 s or more, else None.
    start_deg : float
        Angle of the start position.
    complete : bool
        True where the excursion is at least the set share (0.70) of the set's median excursion; of a hold, where it
        lasted as long as asked.
    ended_early : bool or None
        Of a hold: True where it was left before the time asked for; None for a repetition that is no hold.
    shaking_deg, sag_deg, sag_uncertainty_deg : float or None
        Of a hold: shaking, change of the angle over it, and the standard uncertainty of that.
    """

    start_s: float
    end_range_s: float
    stop_s: float
    hold_start_s: float
    hold_stop_s: float
    end_range_deg: float
    end_range_uncertainty_deg: float
    held_deg: float | None
    start_deg: float
    complete: bool
    ended_early: bool | None = None
    shaking_deg: float | None = None
    sag_deg: float | None = None
    sag_uncertainty_deg: float | None = None

    @property
    def stays(self) -> bool:
        """True where the person stayed at the end range: there was no way back."""
        return self.stop_s <= self.hold_stop_s

    @property
    def hold_s(self) -> float:
        """Time held at the end range."""
        return self.hold_stop_s - self.hold_start_s

    @property
    def eccentric_s(self) -> float:
        """Time from leaving the start position to the hold."""
        return self.hold_start_s - self.start_s

    @property
    def concentric_s(self) -> float | None:
        """Time from the end of the hold back to the start position; None where there was no way back."""
        return None if self.stays else self.stop_s - self.hold_stop_s


@dataclass(frozen=True)
class RepetitionSet:
    """Repetitions between two rests.

    Parameters
    ----------
    repetitions : tuple of Repetition
        In time order, complete and partial.
    interruptions : tuple of tuple of float
        (start_s, stop_s) of pauses over which neighbouring groups were joined into this set.
    """

    repetitions: tuple[Repetition, ...]
    interruptions: tuple[tuple[float, float], ...] = ()

    @property
    def complete_count(self) -> int:
        """Number of complete repetitions."""
        return sum(each.complete for each in self.repetitions)

    @property
    def start_s(self) -> float:
        """Start of the first repetition."""
        return self.repetitions[0].start_s

    @property
    def stop_s(self) -> float:
        """Stop of the last repetition."""
        return self.repetitions[-1].stop_s


def _whole_ramp(ramps: Floats) -> Floats:
    """Start and end of each ramp, extrapolated from its 10 and 90 % by the movement's own shape.

    The shape is pooled over all ramps, since one ramp tells it poorly.
    """
    middle = ramps[:, 2] - ramps[:, 1]
    most = ramps[:, 3] - ramps[:, 0]
    ratio = float(np.median(np.abs(middle) / np.maximum(np.abs(most), 1e-9)))
    steady = np.clip((ratio - USUAL_RATIO) / (STEADY_RATIO - USUAL_RATIO), 0.0, 1.0)
    share = USUAL_SHARE + steady * (STEADY_SHARE - USUAL_SHARE)
    outside = most * (1.0 / share - 1.0) / 2.0
    return np.stack([ramps[:, 0] - outside, ramps[:, 3] + outside], axis=1)


def measured_sets(
    groups: list[list[Excursion]],
    angle: Floats,
    smooth: Floats,
    rate_hz: float,
    first_s: float,
    complete_share: float,
) -> list[RepetitionSet]:
    """Turn groups of excursions into sets of repetitions with their times and end ranges.

    Parameters
    ----------
    groups : list of list of Excursion
        In time order, each with at least one.
    angle, smooth : ndarray of shape (m,)
        Angle in degrees, and smoothed.
    rate_hz : float
        Rate of these arrays.
    first_s : float
        Time of the first sample.
    complete_share : float
        A repetition is complete from this share of its set's median excursion.

    Returns
    -------
    list of RepetitionSet
        One for each group.
    """
    everything = [each for group in groups for each in group]
    up = _whole_ramp(np.array([each.up for each in everything]))
    down = _whole_ramp(np.array([each.down for each in everything]))
    sets = []
    taken = 0
    for group in groups:
        measured = []
        for position, each in enumerate(group, start=taken):
            begin, end = each.low, each.next_low + 1
            found = estimate_end_range(angle[begin:end], smooth[begin:end], each.high - begin, each.size, rate_hz)
            deepest = float(begin + found.index)
            start = max(float(each.low), up[position, 0])
            stop = min(float(each.next_low), down[position, 0])
            hold_start, hold_stop = up[position, 1], down[position, 1]
            if each.fall == 0.0:  # stayed there: no way back, the hold as long as the others'
                stop = hold_stop = max(hold_start, float(each.next_low))
            if hold_stop <= hold_start:
                hold_start = hold_stop = float(np.clip((hold_start + hold_stop) / 2, start, stop))
            seconds = [first_s + value / rate_hz for value in (start, deepest, stop, hold_start, hold_stop)]
            measured.append(
                Repetition(
                    start_s=seconds[0],
                    end_range_s=min(max(seconds[1], seconds[0]), seconds[2]),
                    stop_s=seconds[2],
                    hold_start_s=seconds[3],
                    hold_stop_s=seconds[4],
                    end_range_deg=found.angle_deg,
                    end_range_uncertainty_deg=found.standard_uncertainty_deg,
                    held_deg=found.held_deg,
                    start_deg=each.start_level,
                    complete=True,
                )
            )
        taken += len(group)
        sets.append(regrouped(measured, (), complete_share))
    return sets


def regrouped(
    repetitions: Sequence[Repetition], interruptions: tuple[tuple[float, float], ...], complete_share: float
) -> RepetitionSet:
    """Make a set of repetitions, each marked complete or partial against the set's median excursion.

    Parameters
    ----------
    repetitions : sequence of Repetition
        In time order, at least one.
    interruptions : tuple of tuple of float
        Pauses within the set.
    complete_share : float
        A repetition is complete from this share of the median excursion.

    Returns
    -------
    RepetitionSet
        The set.
    """
    start = float(np.median([each.start_deg for each in repetitions]))
    excursions = np.array([each.end_range_deg - start for each in repetitions])
    complete = excursions >= complete_share * np.median(excursions)
    # a hold is complete by its time, whatever the others did
    marked = tuple(
        replace(each, complete=bool(full) if each.ended_early is None else not each.ended_early)
        for each, full in zip(repetitions, complete, strict=True)
    )
    return RepetitionSet(marked, interruptions)


def find_sets(
    angle_deg: Floats,
    eligible: NDArray[np.bool_],
    rate_hz: float,
    settings: RepetitionSettings,
    first_s: float = 0.0,
    walking: NDArray[np.bool_] | None = None,
) -> list[RepetitionSet]:
    """Find repetitions and group them into sets.

    Parameters
    ----------
    angle_deg : ndarray of shape (m,)
        Joint angle, positive towards end range, at about 25 Hz.
    eligible : ndarray of bool of shape (m,)
        False while walking, before the sensors were worn, during pose and calibration.
    rate_hz : float
        Rate of these arrays.
    settings : RepetitionSettings
        Limits.
    first_s : float
        Time of the first sample.
    walking : ndarray of bool of shape (m,), optional
        As `find_excursion_groups` takes it.

    Returns
    -------
    list of RepetitionSet
        In time order; empty where there is no repeated movement.
    """
    smooth = gaussian_smooth(angle_deg, SMOOTH_S * rate_hz)
    groups = find_excursion_groups(smooth, eligible, rate_hz, settings, walking)
    return measured_sets(groups, angle_deg, smooth, rate_hz, first_s, settings.complete_share) if groups else []


def join_interrupted(
    sets: list[RepetitionSet], prescribed_repetitions: Sequence[int], settings: RepetitionSettings
) -> list[RepetitionSet]:
    """Join neighbours that are one interrupted set.

    Parameters
    ----------
    sets : list of RepetitionSet
        As found.
    prescribed_repetitions : sequence of int
        Of each set in the plan's order: neighbours are joined only where there are more sets than prescribed, their
        sum is at most the prescribed number plus one and every gap is under a minute. Of the ways to do so the one
        with the counts nearest to those prescribed is taken, then the one with the shortest pauses.
    settings : RepetitionSettings
        Limits.

    Returns
    -------
    list of RepetitionSet
        With the pauses named in ``interruptions``.
    """
    most = max(prescribed_repetitions, default=0)
    for groups in range(len(prescribed_repetitions), len(sets)):
        # which set of a longer row is which can't be told
        prescribed = prescribed_repetitions if groups == len(prescribed_repetitions) else [most] * groups
        best = _best_partition(sets, prescribed, settings.longest_interruption_s)
        if best is not None:
            return [_joined(sets[first:last], settings.complete_share) for first, last in best]
    return list(sets)


def _best_partition(
    sets: list[RepetitionSet], prescribed_repetitions: Sequence[int], longest_s: float
) -> list[tuple[int, int]] | None:
    """Part neighbours into a number of groups: nearest to the prescribed counts, then the shortest pauses within."""
    # best[k][j]: cost and parts of the first j pieces in k groups
    best: list[dict[int, tuple[float, float, list[tuple[int, int]]]]] = [{0: (0.0, 0.0, [])}]
    for prescribed in prescribed_repetitions:
        reached: dict[int, tuple[float, float, list[tuple[int, int]]]] = {}
        for first, (off, paused, parts) in best[-1].items():
            count, pauses = 0, 0.0
            for last in range(first + 1, len(sets) + 1):
                count += sets[last - 1].complete_count
                if last - 1 > first:
                    pause = sets[last - 1].start_s - sets[last - 2].stop_s
                    pauses += pause
                    if pause >= longest_s or count > prescribed + 1:
                        break
                cost = (off + abs(count - prescribed), paused + pauses, [*parts, (first, last)])
                if last not in reached or cost[:2] < reached[last][:2]:
                    reached[last] = cost
        best.append(reached)
    whole = best[-1].get(len(sets))
    return None if whole is None else whole[2]


def _joined(pieces: list[RepetitionSet], complete_share: float) -> RepetitionSet:
    if len(pieces) == 1:
        return pieces[0]
    pauses = [pause for each in pieces for pause in each.interruptions]
    pauses += [(before.stop_s, after.start_s) for before, after in itertools.pairwise(pieces)]
    repetitions = [repetition for each in pieces for repetition in each.repetitions]
    return regrouped(repetitions, tuple(sorted(pauses)), complete_share)
