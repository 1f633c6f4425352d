"""Joint angle to repetitions to sets.

A repetition leaves the start position, reaches end range, dwells there or not, and comes back. Its window comes from
turning points and from shares of its own excursion, which a shift of the zero does not move. What is done while walking
is none, nor is a rest on the way: a plateau that lasts far longer than the holds do.

All angles here are in degrees, positive towards end range, at a low rate (about 25 Hz).
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from imu_rom.motion.end_range import estimate_end_range
from imu_rom.motion.movement import turning_points

__all__ = ["Repetition", "RepetitionSet", "find_sets", "join_interrupted"]

Floats = NDArray[np.float64]

SMOOTH_S = 0.08
SMALLEST_EXCURSION_DEG = 8.0
SMALLEST_SHARE = 0.40
SMALLEST_PARTIAL_SHARE = 0.25
FIRST_HYSTERESIS_DEG = 5.0
HYSTERESIS_SHARE = 0.18
# The person just stands where the angle is this near to the neutral pose's.
STANDING_DEG = 4.0
SHORTEST_REPETITION_S = 0.8
LONGEST_HOLD_S = 60.0
REST_S = 6.0
COMPLETE_SHARE = 0.70
LONGEST_INTERRUPTION_S = 60.0
# Ramps between 10 and 90 % of the excursion: share of the whole ramp's time, and ratio of the middle half's time to it,
# for a steady (linear) and for a minimum-jerk movement (Flash and Hogan 1985, doi:10.1523/JNEUROSCI.05-07-01688.1985).
STEADY_SHARE, STEADY_RATIO = 0.800, 0.625
SMOOTH_SHARE, SMOOTH_RATIO = 0.506, 0.557


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
        True where the excursion is at least the set share (0.70) of the set's median excursion.
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

    @property
    def hold_s(self) -> float:
        """Time held at the end range."""
        return self.hold_stop_s - self.hold_start_s

    @property
    def eccentric_s(self) -> float:
        """Time from leaving the start position to the hold."""
        return self.hold_start_s - self.start_s

    @property
    def concentric_s(self) -> float:
        """Time from the end of the hold back to the start position."""
        return self.stop_s - self.hold_stop_s


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


@dataclass(frozen=True)
class _Candidate:
    """A high between two lows, with the ramps on both sides; samples, except where named otherwise."""

    low: int
    high: int
    next_low: int
    rise: float
    fall: float
    level: float
    up: tuple[float, float, float, float]
    down: tuple[float, float, float, float]
    dwell_s: float

    @property
    def size(self) -> float:
        return min(self.rise, self.fall)

    @property
    def start_level(self) -> float:
        return self.level - self.rise


def _gaussian_smooth(values: Floats, width: float) -> Floats:
    half = max(1, round(3 * width))
    kernel = np.exp(-0.5 * (np.arange(-half, half + 1) / width) ** 2)
    return np.convolve(np.pad(values, half, mode="edge"), kernel / kernel.sum(), mode="valid")


def _last_crossing(values: Floats, level: float) -> float:
    """Position after which the values stay above a level up to their end, interpolated."""
    below = np.flatnonzero(values < level)
    if len(below) == 0 or below[-1] == len(values) - 1:
        return 0.0 if len(below) == 0 else float(len(values) - 1)
    last = int(below[-1])
    return last + float((level - values[last]) / (values[last + 1] - values[last]))


def _ramp(values: Floats, bottom: float, top: float) -> tuple[float, float, float, float]:
    """Last crossings of 10, 25, 75 and 90 % on the way from a low up to a high."""
    ten, quarter, three, ninety = (
        _last_crossing(values, bottom + share * (top - bottom)) for share in (0.1, 0.25, 0.75, 0.9)
    )
    return ten, quarter, three, ninety


def _candidates(smooth: Floats, hysteresis: float, smallest: float, rate_hz: float) -> list[_Candidate]:
    points = turning_points(smooth, hysteresis)
    found: list[_Candidate] = []
    for position in points.highs().tolist():
        low, high, next_low = (int(points.index[position + step]) for step in (-1, 0, 1))
        level = float(smooth[high])
        rise, fall = level - float(smooth[low]), level - float(smooth[next_low])
        if min(rise, fall) < smallest:
            continue
        up = _ramp(smooth[low : high + 1], level - rise, level)
        down = _ramp(smooth[high : next_low + 1][::-1], level - fall, level)
        up_at = tuple(low + each for each in up)
        down_at = tuple(next_low - each for each in down)
        found.append(
            _Candidate(low, high, next_low, rise, fall, level, up_at, down_at, (down_at[3] - up_at[3]) / rate_hz)  # type: ignore[arg-type]
        )
    return found


def _typical_size(candidates: list[_Candidate]) -> float:
    sizes = np.array([each.size for each in candidates])
    return float(np.median(sizes[sizes >= SMALLEST_SHARE * np.quantile(sizes, 0.9)]))


def _on_the_spot(candidate: _Candidate, eligible: NDArray[np.bool_], rate_hz: float) -> bool:
    begin, end = int(candidate.up[0]), int(candidate.down[0]) + 1
    lasts = (end - begin) / rate_hz
    return bool(
        eligible[begin:end].mean() > 0.9 and SHORTEST_REPETITION_S <= lasts and candidate.dwell_s <= LONGEST_HOLD_S
    )


def _alike(candidates: list[_Candidate], typical: float, rate_hz: float) -> list[_Candidate]:
    """Leave out rests on the way and movements from and to elsewhere."""
    level, start, dwell = _medians(candidates)
    rising, falling = (
        float(np.median([abs(ramp[3] - ramp[0]) for ramp in ramps])) / rate_hz
        for ramps in ([each.up for each in candidates], [each.down for each in candidates])
    )
    kept = []
    for each in candidates:
        shallow = each.level < level - max(5.0, 0.15 * typical)
        rests = each.dwell_s > max(8.0, 2.5 * dwell + 3.0)
        rests |= shallow and each.dwell_s > 2.5 * dwell + 1.5
        rests |= shallow and abs(each.level) < STANDING_DEG and each.dwell_s > 1.4 * dwell + 1.0
        # standing on the way up or down: far longer than the others take
        rests |= (each.up[3] - each.up[0]) / rate_hz > 2.5 * rising + 1.0
        rests |= (each.down[0] - each.down[3]) / rate_hz > 2.5 * falling + 1.0
        # the smaller the movement, the closer it must start to where the others do
        room = 0.5 * typical if each.size > SMALLEST_SHARE * typical else 0.25 * typical
        elsewhere = abs(each.start_level - start) > room or each.level > level + 0.6 * typical
        if not rests and not elsewhere:
            kept.append(each)
    return kept


def _medians(candidates: list[_Candidate]) -> tuple[float, float, float]:
    """Median end level, start level and dwell of the larger movements."""
    sizes = np.array([each.size for each in candidates])
    larger = [each for each in candidates if each.size >= 0.7 * np.median(sizes)]
    level, start, dwell = np.median([(each.level, each.start_level, each.dwell_s) for each in larger], axis=0)
    return float(level), float(start), float(dwell)


def _grouped(candidates: list[_Candidate], eligible: NDArray[np.bool_], rate_hz: float) -> list[list[_Candidate]]:
    groups: list[list[_Candidate]] = []
    for each in candidates:
        if groups:
            before = groups[-1][-1]
            pause = slice(int(before.down[0]), max(int(before.down[0]) + 1, int(each.up[0])))
            rests = (each.up[0] - before.down[0]) / rate_hz > REST_S or (~eligible[pause]).mean() > 0.3
            if not rests:
                groups[-1].append(each)
                continue
        groups.append([each])
    return groups


def _settled(groups: list[list[_Candidate]], typical: float) -> list[list[_Candidate]]:
    """Leave out lone movements that are unlike the repetitions of the sets, and steps on and off at a set's ends."""
    largest = max(len(each) for each in groups)
    everything = [each for group in groups for each in group]
    level, start, _ = _medians(everything)
    rising, falling = (
        float(np.median([abs(ramp[3] - ramp[0]) for ramp in ramps]))
        for ramps in ([each.up for each in everything], [each.down for each in everything])
    )
    kept = []
    for group in groups:
        inside = list(group)
        for end in (0, -1):
            edge = inside[end] if inside else None
            if edge is not None:
                stands = abs(edge.level) < STANDING_DEG and edge.level < level - max(5.0, 0.15 * typical)
                slow = edge.up[3] - edge.up[0] > 1.8 * rising or edge.down[0] - edge.down[3] > 1.8 * falling
                if stands or (slow and len(inside) > 2):
                    inside.pop(end)
        lone = largest >= 4 and len(inside) <= 2
        like = [
            abs(each.level - level) < 0.35 * typical and abs(each.start_level - start) < 0.35 * typical
            for each in inside
        ]
        if inside and (not lone or all(like)):
            kept.append(inside)
    return kept


def _with_last_lowering(groups: list[list[_Candidate]], smooth: Floats, rate_hz: float) -> list[list[_Candidate]]:
    """Add a set's last movement into end range where the person stays there: to the floor, and the set is over.

    It counts where it starts, ends and lasts like the set's other ones and follows on them without a rest.
    """
    extended = []
    for group in groups:
        level, start, dwell = _medians(group)
        size, last = level - start, group[-1]
        lasting = float(np.median([each.up[3] - each.up[0] for each in group]))
        top = float(smooth[last.next_low])
        horizon = smooth[last.next_low : last.next_low + round((REST_S + dwell) * rate_hz + 2.5 * lasting)]
        arrived = np.flatnonzero(horizon > top + 0.9 * (level - top))
        if len(arrived) and abs(top - start) < 0.25 * size:
            ramp = horizon[: arrived[0] + 1]
            up = tuple(last.next_low + each for each in _ramp(ramp, top, float(ramp[-1]) + 0.1 * (level - top)))
            stays = up[3] + dwell * rate_hz
            near = np.abs(smooth[round(up[3]) : round(up[3] + 0.6 * dwell * rate_hz) + 1] - level) < max(
                4.0, 0.12 * size
            )
            follows = up[0] - last.down[0] <= REST_S * rate_hz
            if follows and near.all() and 0.5 * lasting < up[3] - up[0] < 2.0 * lasting and stays < len(smooth):
                high = round(up[3] + 0.3 * dwell * rate_hz)
                down = (stays, stays, stays, stays)
                added = _Candidate(last.next_low, high, round(stays), size, 0.0, float(smooth[high]), up, down, dwell)  # type: ignore[arg-type]
                group = [*group, added]  # noqa: PLW2901
        extended.append(group)
    return extended


def _whole_ramp(ramps: Floats) -> Floats:
    """Start and end of each ramp, extrapolated from its 10 and 90 % by the movement's own shape.

    The shape is between steady and minimum-jerk; it is pooled over all ramps, since one ramp tells it poorly.
    """
    middle = ramps[:, 2] - ramps[:, 1]
    most = ramps[:, 3] - ramps[:, 0]
    ratio = float(np.median(np.abs(middle) / np.maximum(np.abs(most), 1e-9)))
    steady = np.clip((ratio - SMOOTH_RATIO) / (STEADY_RATIO - SMOOTH_RATIO), 0.0, 1.0)
    share = SMOOTH_SHARE + steady * (STEADY_SHARE - SMOOTH_SHARE)
    outside = most * (1.0 / share - 1.0) / 2.0
    return np.stack([ramps[:, 0] - outside, ramps[:, 3] + outside], axis=1)


def _measured(
    groups: list[list[_Candidate]], angle: Floats, smooth: Floats, rate_hz: float, first_s: float
) -> list[RepetitionSet]:
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
        sets.append(_with_complete(tuple(measured)))
    return sets


def _with_complete(
    repetitions: tuple[Repetition, ...], interruptions: tuple[tuple[float, float], ...] = ()
) -> RepetitionSet:
    """Mark each repetition complete or partial against its set's median excursion."""
    start = float(np.median([each.start_deg for each in repetitions]))
    excursions = np.array([each.end_range_deg - start for each in repetitions])
    complete = excursions >= COMPLETE_SHARE * np.median(excursions)
    marked = tuple(replace(each, complete=bool(full)) for each, full in zip(repetitions, complete, strict=True))
    return RepetitionSet(marked, interruptions)


def find_sets(
    angle_deg: Floats, eligible: NDArray[np.bool_], rate_hz: float, first_s: float = 0.0
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
    first_s : float
        Time of the first sample.

    Returns
    -------
    list of RepetitionSet
        In time order; empty where there is no repeated movement.
    """
    smooth = _gaussian_smooth(angle_deg, SMOOTH_S * rate_hz)
    first = [
        each
        for each in _candidates(smooth, FIRST_HYSTERESIS_DEG, SMALLEST_EXCURSION_DEG, rate_hz)
        if _on_the_spot(each, eligible, rate_hz)
    ]
    if not first:
        return []
    typical = _typical_size(first)
    movements = _candidates(
        smooth,
        max(FIRST_HYSTERESIS_DEG, HYSTERESIS_SHARE * typical),
        max(SMALLEST_EXCURSION_DEG, SMALLEST_PARTIAL_SHARE * typical),
        rate_hz,
    )
    on_the_spot = [each for each in movements if _on_the_spot(each, eligible, rate_hz)]
    found = _alike(on_the_spot, typical, rate_hz) if on_the_spot else []
    if not found:
        return []
    groups = _settled(_grouped(found, eligible, rate_hz), typical)
    groups = _with_last_lowering(groups, smooth, rate_hz)
    return _measured(groups, angle_deg, smooth, rate_hz, first_s) if groups else []


def join_interrupted(
    sets: list[RepetitionSet], prescribed_sets: int, prescribed_repetitions: int
) -> list[RepetitionSet]:
    """Join neighbours that are one interrupted set.

    Parameters
    ----------
    sets : list of RepetitionSet
        As found.
    prescribed_sets, prescribed_repetitions : int
        As the plan says: neighbours are joined only while there are more sets than prescribed, where their sum is at most
        the prescribed number plus one and the gap is under a minute; the shortest gaps first.

    Returns
    -------
    list of RepetitionSet
        With the pauses named in ``interruptions``.
    """
    joined = list(sets)
    while len(joined) > prescribed_sets:
        gaps = [
            (after.start_s - before.stop_s, position)
            for position, (before, after) in enumerate(zip(joined[:-1], joined[1:], strict=True))
            if before.complete_count + after.complete_count <= prescribed_repetitions + 1
            and after.start_s - before.stop_s < LONGEST_INTERRUPTION_S
        ]
        if not gaps:
            break
        _, position = min(gaps)
        before, after = joined[position : position + 2]
        pauses = (*before.interruptions, (before.stop_s, after.start_s), *after.interruptions)
        joined[position : position + 2] = [_with_complete((*before.repetitions, *after.repetitions), pauses)]
    return joined
