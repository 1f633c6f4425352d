"""Which excursions of a joint angle, out of a low up to a high and back, are repetitions of an exercise.

What is done while walking is none, nor is a rest on the way (a plateau that lasts far longer than the holds do, or
standing at the neutral pose's angle), nor a step on or off at a set's ends.
"""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from imu_rom.motion.excursion_shape import Excursion, excursion_between, ramp_crossings
from imu_rom.motion.movement import turning_points
from imu_rom.settings import RepetitionSettings

__all__ = ["find_excursion_groups"]

Floats = NDArray[np.float64]

SMALLEST_SHARE = 0.40
SMALLEST_PARTIAL_SHARE = 0.25
FIRST_HYSTERESIS_DEG = 5.0
HYSTERESIS_SHARE = 0.18
# The person just stands where the angle is this near to the neutral pose's.
STANDING_DEG = 4.0
LONGEST_STANDING_S = 3.0
# Ramps this many times as long as usual beside walking are steps on or off.
SLOW = 1.3
BESIDE_S = 3.0
SHORTEST_REPETITION_S = 0.8
LONGEST_HOLD_S = 60.0


def _candidates(
    smooth: Floats,
    eligible: NDArray[np.bool_],
    hysteresis: float,
    smallest: float,
    rate_hz: float,
    known: dict[tuple[int, int, int], Excursion],
) -> list[Excursion]:
    points = turning_points(smooth, hysteresis)
    found: list[Excursion] = []
    for position in points.highs().tolist():
        low, high, next_low = (int(points.index[position + step]) for step in (-1, 0, 1))
        low = high - _low_on_the_spot(smooth[low : high + 1][::-1], eligible[low : high + 1][::-1])
        next_low = high + _low_on_the_spot(smooth[high : next_low + 1], eligible[high : next_low + 1])
        if float(smooth[high]) - max(float(smooth[low]), float(smooth[next_low])) >= smallest:
            places = (low, high, next_low)
            # most are the same whatever the hysteresis
            if places not in known:
                known[places] = excursion_between(smooth, *places, rate_hz)
            found.append(known[places])
    return found


def _low_on_the_spot(way: Floats, eligible: NDArray[np.bool_]) -> int:
    """Lowest point on a way out of a high, before walking begins there if that leaves most of the way."""
    lowest = int(np.argmin(way))
    walks = np.flatnonzero(~eligible)
    if len(walks) and 0 < walks[0] <= lowest:
        before = int(np.argmin(way[: walks[0]]))
        if way[0] - way[before] > 0.5 * (way[0] - way[lowest]):
            return before
    return lowest


def _typical_size(candidates: list[Excursion]) -> float:
    sizes = np.array([each.size for each in candidates])
    return float(np.median(sizes[sizes >= SMALLEST_SHARE * np.quantile(sizes, 0.9)]))


def _on_the_spot(candidate: Excursion, eligible: NDArray[np.bool_], rate_hz: float) -> bool:
    begin, end = int(candidate.up[0]), int(candidate.down[0]) + 1
    lasts = (end - begin) / rate_hz
    ramps = ((begin, int(candidate.up[3]) + 1), (int(candidate.down[3]), end))
    return bool(
        eligible[begin:end].mean() > 0.9
        and all(eligible[first:last].mean() > 0.5 for first, last in ramps)
        and lasts >= SHORTEST_REPETITION_S
        and candidate.dwell_s <= LONGEST_HOLD_S
    )


def _alike(candidates: list[Excursion], smooth: Floats, typical: float, rate_hz: float) -> list[Excursion]:
    """Leave out rests on the way and movements from and to elsewhere."""
    level, start, dwell = _medians(candidates)
    # from 25 %: the low before a set's first repetition lies in walking, and standing after it would read as a ramp
    rising = float(np.median([each.up[3] - each.up[1] for each in candidates])) / rate_hz
    shallow_by = max(5.0, 0.15 * typical)
    kept = []
    for each in candidates:
        shallow = each.level < level - shallow_by
        rests = each.dwell_s > max(8.0, 2.5 * dwell + 3.0)
        rests |= shallow and each.dwell_s > 2.5 * dwell + 1.5
        rests |= shallow and abs(each.level) < STANDING_DEG and each.dwell_s > 1.4 * dwell + 1.0
        rests |= abs(each.level) < STANDING_DEG and each.dwell_s > 1.8 * dwell + 1.5
        # up from the start position to standing, and from there somewhere else
        back = float(smooth[each.next_low])
        rests |= shallow and abs(each.level) < STANDING_DEG and abs(back - start) > 0.25 * typical
        # standing on the way: far longer than the others take, or near the neutral pose's angle for seconds
        rests |= (each.up[3] - each.up[1]) / rate_hz > 2.5 * rising + 1.0
        rests |= _standing_s(each, smooth, level - shallow_by, rate_hz) > LONGEST_STANDING_S
        # the smaller the movement, the closer it must start to where the others do
        room = 0.5 * typical if each.size > SMALLEST_SHARE * typical else 0.25 * typical
        elsewhere = abs(each.start_level - start) > room or each.level > level + 0.6 * typical
        elsewhere |= max(each.rise, each.fall) > 2.5 * typical
        if _done_like(each, smooth, (start, dwell, rising), typical, rate_hz) or not (rests or elsewhere):
            kept.append(each)
    return kept


def _without_rest_on_the_way_back(candidates: list[Excursion], rate_hz: float) -> list[Excursion]:
    """End an excursion after the usual way back where the person comes to rest before the start position is reached."""
    falling = float(np.median([each.down[0] - each.down[3] for each in candidates]))
    longest = 2.5 * falling + rate_hz
    usual = tuple(falling * share for share in (1.0, 0.8, 0.2, 0.0))
    ended = []
    for each in candidates:
        if each.down[0] - each.down[3] <= longest:
            ended.append(each)
            continue
        one, quarter, three, ninety = (each.down[3] + after for after in usual)
        ended.append(replace(each, down=(one, quarter, three, ninety), next_low=min(each.next_low, round(one) + 1)))
    return ended


def _done_like(
    candidate: Excursion, smooth: Floats, usual: tuple[float, float, float], typical: float, rate_hz: float
) -> bool:
    """Whether an excursion starts and comes back where the others do, in the time that they take, however deep."""
    start, dwell, rising = usual
    back = float(smooth[candidate.next_low])
    return bool(
        abs(candidate.start_level - start) < 0.25 * typical
        and abs(back - start) < 0.25 * typical
        and 0.5 * dwell - 0.5 < candidate.dwell_s < 1.4 * dwell + 0.5
        and (candidate.up[3] - candidate.up[1]) / rate_hz < 1.6 * rising + 0.3
    )


def _standing_s(candidate: Excursion, smooth: Floats, below: float, rate_hz: float) -> float:
    """Time near the neutral pose's angle on the way up and down, where that is no end range."""
    ways = (
        smooth[int(candidate.up[1]) : int(candidate.up[3]) + 1],
        smooth[int(candidate.down[3]) : int(candidate.down[1]) + 1],
    )
    return float(sum(np.sum((np.abs(way) < STANDING_DEG) & (way < below)) for way in ways)) / rate_hz


def _medians(candidates: list[Excursion]) -> tuple[float, float, float]:
    """Median end level, start level and dwell of the larger movements."""
    sizes = np.array([each.size for each in candidates])
    larger = [each for each in candidates if each.size >= 0.7 * np.median(sizes)]
    level, start, dwell = np.median([(each.level, each.start_level, each.dwell_s) for each in larger], axis=0)
    return float(level), float(start), float(dwell)


def _grouped(
    candidates: list[Excursion], eligible: NDArray[np.bool_], rate_hz: float, rest_s: float
) -> list[list[Excursion]]:
    groups: list[list[Excursion]] = []
    for each in candidates:
        if groups:
            before = groups[-1][-1]
            pause = slice(int(before.down[0]), max(int(before.down[0]) + 1, int(each.up[0])))
            rests = (each.up[0] - before.down[0]) / rate_hz > rest_s or (~eligible[pause]).mean() > 0.3
            if not rests:
                groups[-1].append(each)
                continue
        groups.append([each])
    return groups


def _settled(
    groups: list[list[Excursion]], walking: NDArray[np.bool_], typical: float, rate_hz: float
) -> list[list[Excursion]]:
    """Leave out lone movements that are unlike the repetitions of the sets, and steps on and off at a set's ends."""
    largest = max(len(each) for each in groups)
    everything = [each for group in groups for each in group]
    level, start, _ = _medians(everything)
    kept = []
    for group in groups:
        inside = list(group)
        for end in (0, -1):
            edge = inside[end] if inside else None
            if edge is not None and _steps(edge, groups, walking, rate_hz, end, typical):
                inside.pop(end)
        lone = largest >= 4 and len(inside) <= 2
        like = [
            abs(each.level - level) < 0.35 * typical and abs(each.start_level - start) < 0.35 * typical
            for each in inside
        ]
        if inside and (not lone or all(like)):
            kept.append(inside)
    return kept


def _steps(
    edge: Excursion,
    groups: list[list[Excursion]],
    walking: NDArray[np.bool_],
    rate_hz: float,
    end: int,
    typical: float,
) -> bool:
    """Whether a set's first (end 0) or last (-1) excursion is a step on or off: beside walking, unlike the others."""
    seconds = round(BESIDE_S * rate_hz)
    at = int(edge.down[0]) if end else max(0, int(edge.up[0]) - seconds)
    if not walking[at : at + seconds].any():
        return False
    everything = [each for group in groups for each in group]
    level, _, _ = _medians(everything)
    spread = 1.4826 * float(np.median([abs(each.level - level) for each in everything]))
    # coming from walking and going to it may take its time and go half the way, but not the other way round
    ways = [each.up[3] - each.up[0] if end else each.down[0] - each.down[3] for each in everything]
    way, outer = (edge.up[3] - edge.up[0], edge.fall) if end else (edge.down[0] - edge.down[3], edge.rise)
    unlike = abs(edge.level - level) > max(3.0, 2.5 * spread)
    lasts = float(np.median([each.down[0] - each.up[0] for each in everything]))
    hasty = edge.down[0] - edge.up[0] < 0.5 * lasts
    return bool(way > SLOW * np.median(ways) or hasty or (unlike and outer < 0.6 * typical))


def _with_last_lowering(
    groups: list[list[Excursion]], smooth: Floats, rate_hz: float, rest_s: float
) -> list[list[Excursion]]:
    """Add a set's last movement into end range where the person stays there: to the floor, and the set is over.

    It counts where it starts, ends and lasts like the set's other ones and follows on them without a rest.
    """
    extended = []
    for group in groups:
        level, start, dwell = _medians(group)
        size, last = level - start, group[-1]
        lasting = float(np.median([each.up[3] - each.up[0] for each in group]))
        top = float(smooth[last.next_low])
        horizon = smooth[last.next_low : last.next_low + round((rest_s + dwell) * rate_hz + 2.5 * lasting)]
        arriving = np.flatnonzero(horizon > top + 0.75 * (level - top))
        if len(arriving) and abs(top - start) < 0.25 * size:
            peak = int(arriving[0]) + int(
                np.argmax(horizon[arriving[0] : arriving[0] + round((0.7 * dwell + 1) * rate_hz)])
            )
            deep = float(horizon[peak])
            up = tuple(last.next_low + each for each in ramp_crossings(horizon[: peak + 1], top, deep))
            stays = up[3] + dwell * rate_hz
            room = max(5.0, 0.15 * size)
            near = smooth[round(up[3]) : round(up[3] + 0.5 * dwell * rate_hz) + 1] > deep - room
            follows = up[0] - last.down[0] <= rest_s * rate_hz and 0.5 * lasting < up[3] - up[0] < 2.0 * lasting
            if follows and abs(deep - level) < room and near.all() and stays < len(smooth):
                down = (stays, stays, stays, stays)
                high = min(last.next_low + peak, round(stays))
                added = Excursion(last.next_low, high, round(stays), size, 0.0, deep, up, down, dwell)  # type: ignore[arg-type]
                group = [*group, added]  # noqa: PLW2901
        extended.append(group)
    return extended


def find_excursion_groups(
    smooth_deg: Floats,
    eligible: NDArray[np.bool_],
    rate_hz: float,
    settings: RepetitionSettings,
    walking: NDArray[np.bool_] | None = None,
) -> list[list[Excursion]]:
    """Find the excursions that are repetitions, grouped between rests.

    Parameters
    ----------
    smooth_deg : ndarray of shape (m,)
        Smoothed joint angle about the neutral pose, positive towards end range.
    eligible : ndarray of bool of shape (m,)
        False where no repetition can be.
    rate_hz : float
        Rate of these arrays.
    settings : RepetitionSettings
        Limits.
    walking : ndarray of bool of shape (m,), optional
        True where a step on or off may come from; None takes all that is not eligible.

    Returns
    -------
    list of list of Excursion
        Groups in time order, each with at least one.

    Notes
    -----
    Two passes: the first learns how large the repetitions are, the second looks for all of them, down to partial ones,
    with a hysteresis that follows that size.
    """
    smallest_deg = settings.smallest_excursion_deg
    known: dict[tuple[int, int, int], Excursion] = {}
    first = [
        each
        for each in _candidates(smooth_deg, eligible, FIRST_HYSTERESIS_DEG, smallest_deg, rate_hz, known)
        if _on_the_spot(each, eligible, rate_hz)
    ]
    if not first:
        return []
    typical = _typical_size(first)
    hysteresis_deg = max(FIRST_HYSTERESIS_DEG, HYSTERESIS_SHARE * typical)
    smallest_deg = max(smallest_deg, SMALLEST_PARTIAL_SHARE * typical)
    on_the_spot = [
        each
        for each in _candidates(smooth_deg, eligible, hysteresis_deg, smallest_deg, rate_hz, known)
        if _on_the_spot(each, eligible, rate_hz)
    ]
    found = _alike(on_the_spot, smooth_deg, typical, rate_hz) if on_the_spot else []
    if not found:
        return []
    found = _without_rest_on_the_way_back(found, rate_hz)
    groups = _settled(
        _grouped(found, eligible, rate_hz, settings.rest_s), ~eligible if walking is None else walking, typical, rate_hz
    )
    return _with_last_lowering(groups, smooth_deg, rate_hz, settings.rest_s)
