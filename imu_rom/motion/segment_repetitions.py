"""Repetitions of an exercise from one sensor: how often its segment turned away from where it was and came back.

No joint angle comes out of this: the angle is the segment's own, along the direction in which it turns most, from the
position in which the set starts. What is counted are ways out and back that are like each other (``cycles.py``), so
neither the sensor's mounting nor the kind of exercise matters, and no number of repetitions is expected. Bringing the
limb into place before and after a set goes another way and isn't counted; walking is told by the jolts of its steps.

A repetition counts when its way out was done, or, at a recording's edge, at least half of it was seen. A set whose
last position isn't its first one has a way too many: where the recording was cut there, it belongs to a repetition;
where the person came to rest, it may have been the way from or to somewhere else, and the count is undecided.
"""

import itertools
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from imu_rom.errors import RecordingError
from imu_rom.motion.coarse import block_mean
from imu_rom.motion.cycles import Cycles
from imu_rom.motion.excursion_shape import Excursion, excursion_between
from imu_rom.motion.repetitions import RepetitionSet, measured_sets
from imu_rom.motion.segment_bouts import Bout, find_bouts, is_walking, through_jolts
from imu_rom.motion.segment_motion import SegmentMotion, segment_motion, strides
from imu_rom.settings import Settings

__all__ = ["SegmentRepetitions", "SegmentSet", "count_segment_repetitions"]

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]

# An end of a set lies at the recording's edge where less than this share of a way lies between.
AT_EDGE_SHARE = 1.2
# Share of a whole way that must be seen where the recording cuts it, give or take what is doubtful.
SEEN_SHARE, SEEN_DOUBT = 0.5, 0.15
# Where the person rests, a way must be as large as the others, to within their spread: else it came from elsewhere.
DONE_SPREADS, DONE_SHARE, DONE_DOUBT = 2.5, (0.80, 0.90), 0.05
# The turning point after that may fall short by so much more, give or take.
SECOND_LESS, SECOND_DOUBT = 0.3, 0.2
SAME_PLACE = 0.12
HASTY = 0.3
# Wandering without any repetition reaches less than this, and more for few repetitions.
SURE_REGULARITY, SURE_MORE_FOR_FEW = 0.60, 0.75
RIVAL_REGULARITY = 0.2
PAUSE_TIMES = 3.0
AWAY_TIMES, AWAY_MORE_S, REST_LEVEL_SHARE = 1.6, 1.0, 0.90
LEVELS_AROUND = 5
FEWEST_REPETITIONS = 3


@dataclass(frozen=True)
class SegmentSet:
    """One set as one sensor shows it.

    Parameters
    ----------
    done : RepetitionSet
        Repetitions with their times; angles in degrees from where the set starts, along the direction of most turning.
    count : int
        Number of repetitions.
    least, most : int
        What the count may be.
    regularity : float
        How alike the repetitions are: share of the movement that their mean shape explains, 0 to 1.
    cut_start, cut_stop : bool
        True where the recording begins or ends within the set.
    """

    done: RepetitionSet
    count: int
    least: int
    most: int
    regularity: float
    cut_start: bool = False
    cut_stop: bool = False

    @property
    def alike(self) -> bool:
        """True where the repetitions are more alike than a movement that only wanders."""
        return self.regularity >= SURE_REGULARITY + SURE_MORE_FOR_FEW / max(1, self.count)

    @property
    def decided(self) -> bool:
        """True where only one count fits and the repetitions are alike, never where the recording cuts the set."""
        return self.alike and self.least == self.most

    def out_seen(self, position: int) -> bool:
        """Tell whether a repetition's way out lies in the recording.

        Parameters
        ----------
        position : int
            Which repetition, from 0.

        Returns
        -------
        bool
            False for one whose way back alone was recorded.
        """
        return self.done.repetitions[position].eccentric_s > 0.0

    def back_seen(self, position: int) -> bool:
        """Tell whether a repetition's way back lies in the recording.

        Parameters
        ----------
        position : int
            Which repetition, from 0.

        Returns
        -------
        bool
            False for one whose way out alone was recorded.
        """
        return not self.done.repetitions[position].stays

    @property
    def excursion_deg(self) -> float:
        """Median turn of the segment from start position to end range."""
        return float(np.median([each.end_range_deg - each.start_deg for each in self.done.repetitions]))


@dataclass(frozen=True)
class SegmentRepetitions:
    """All sets that one sensor shows.

    Parameters
    ----------
    sets : tuple of SegmentSet
        In time order.
    walking : tuple of tuple of float
        (start_s, stop_s) of stretches taken for walking, in which nothing is counted.
    """

    sets: tuple[SegmentSet, ...]
    walking: tuple[tuple[float, float], ...] = ()


def _reached(levels: Floats) -> tuple[float, float]:
    """How far a set's first two turning points lie on the usual levels of their sides, as shares of the usual way.

    The usual levels are the medians of the next few on either side, which a slow drift doesn't move.
    """
    near = float(np.median(levels[2 : 2 + 2 * LEVELS_AROUND : 2]))
    far = float(np.median(levels[3 : 3 + 2 * LEVELS_AROUND : 2]))
    return (far - float(levels[0])) / (far - near), (float(levels[1]) - near) / (far - near)


def _level_spread(levels: Floats) -> float:
    """Spread of the levels of one side about a slow drift, as a share of the usual way."""
    steps = np.abs(levels[2:] - levels[:-2])
    return float(np.median(steps) / 0.954 / np.median(np.abs(np.diff(levels))))


@dataclass(frozen=True)
class _EndLimits:
    """How far turning points at a set's ends must be reached: the first at each end, the second, the firsts' mean."""

    first: tuple[float, float]
    second_less: float
    both: float


def _kept_points(levels: Floats, limits: _EndLimits, cut: tuple[bool, bool]) -> tuple[int, int]:
    """First turning point and the one after the last that are reached well enough.

    Where the person rests before, a second one that isn't leaves the first one to a movement from elsewhere.
    """
    first, last = 0, len(levels)
    while last - first > 4:
        one, two = _reached(levels[first:last])
        if one >= limits.first[0] and (cut[0] or two >= limits.first[0] - limits.second_less):
            break
        first += 1
    while last - first > 4:
        one, two = _reached(levels[first:last][::-1])
        if one >= limits.first[1] and (cut[1] or two >= limits.first[1] - limits.second_less):
            break
        last -= 1
    if last - first > 6 and (last - first) % 2 == 1 and not any(cut):
        # the same place before and after, if not quite where the others turn: the person stands there
        ends = [_reached(levels[first:last])[0], _reached(levels[first:last][::-1])[0]]
        if np.mean(ends) < limits.both and abs(ends[0] - ends[1]) < SAME_PLACE:
            return first + 1, last - 1
    return first, last


def _end_limits(levels: Floats, cut: tuple[bool, bool], strict: float) -> _EndLimits:
    """Limits for these levels; strict is -1, 0 or 1 for as lenient as is sensible, usual, as strict as is sensible."""
    spread = _level_spread(levels)
    full = float(np.clip(1.0 - DONE_SPREADS * spread, *DONE_SHARE)) + strict * DONE_DOUBT
    seen = SEEN_SHARE + strict * SEEN_DOUBT
    both = float(np.clip(1.0 - DONE_SPREADS * spread / np.sqrt(2.0), *DONE_SHARE)) + strict * DONE_DOUBT
    return _EndLimits((seen if cut[0] else full, seen if cut[1] else full), SECOND_LESS - strict * SECOND_DOUBT, both)


def _without_hasty_ends(cycles: Cycles) -> Cycles:
    """Leave out first and last ways that are far quicker than the others: a step to or from the place of exercise."""
    lasting = np.diff(cycles.points)
    slow = np.flatnonzero(lasting >= HASTY * np.median(lasting))
    first, last = int(slow[0]), int(slow[-1]) + 1
    return replace(cycles, points=cycles.points[first : last + 1], shares=cycles.shares[first:last])


def _sets_of(motion: SegmentMotion, bout: Bout, settings: Settings) -> list[SegmentSet]:
    cycles = _without_hasty_ends(bout.cycles)
    points = cycles.points
    room = AT_EDGE_SHARE * float(np.median(np.diff(points)))
    begins, ends_there = motion.cut(bout.start, bout.stop)
    cut = (begins and points[0] < room, ends_there and bout.stop - 1 - bout.start - points[-1] < room)
    levels = cycles.signal_deg[points]
    ends = [_kept_points(levels, _end_limits(levels, cut, strict), cut) for strict in (-1.0, 0.0, 1.0)]
    first, last = ends[1]
    counts = {each for end in ends for each in _fitting(end, cut)}
    count = _fitting((first, last), cut)[-1 if any(cut) else 0]
    if any(cut):
        # nobody knows what was done outside the recording, nor a first or last way that was hardly seen
        counts.add(count + 1)
    rivals = [
        (ways + 1) // 2
        for ways, regularity in cycles.others
        if ways > 4 / 3 * cycles.ways and regularity > cycles.regularity - RIVAL_REGULARITY
    ]
    excursions, smooth = _excursions(cycles, first, last, cut, motion.rate_hz)
    groups = _parted(excursions, smooth, settings.repetitions.rest_s, motion.rate_hz)
    if cycles.halves:
        # half a repetition left over at the end makes the count undecided
        counts = {len(excursions) // 2, len(excursions) - len(excursions) // 2}
        groups = [_in_pairs(group, smooth, motion.rate_hz) for group in groups]
        count, rivals = sum(len(group) for group in groups), []
    done = measured_sets(
        groups,
        smooth,
        smooth,
        motion.rate_hz,
        motion.first_s + bout.start / motion.rate_hz,
        settings.repetitions.complete_share,
    )
    sets = []
    for number, (group, each) in enumerate(zip(groups, done, strict=True)):
        at_start, at_stop = number == 0, number == len(groups) - 1
        more = max([*counts, *rivals]) - count if at_stop else 0
        less = count - min(counts) if at_stop else 0
        sets.append(
            SegmentSet(
                done=each,
                count=len(group),
                least=max(0, len(group) - less),
                most=len(group) + more,
                regularity=cycles.regularity,
                cut_start=bool(at_start and cut[0]),
                cut_stop=bool(at_stop and cut[1]),
            )
        )
    return sets


def _in_pairs(halves: list[Excursion], signal: Floats, rate_hz: float) -> list[Excursion]:
    """Put two excursions together into one repetition; one that is left over stays alone."""
    whole = []
    for one, two in zip(halves[::2], halves[1::2], strict=False):
        high = one.high if one.level >= two.level else two.high
        whole.append(excursion_between(signal, one.low, high, two.next_low, rate_hz))
    return whole if len(halves) % 2 == 0 else [*whole, halves[-1]]


def _fitting(points: tuple[int, int], cut: tuple[bool, bool]) -> list[int]:
    """Numbers of repetitions that fit the ways between so many turning points, the fewest first."""
    number = points[1] - points[0] - 1
    if number % 2 == 0:
        return [number // 2]
    return [(number + 1) // 2] if any(cut) else [number // 2, number // 2 + 1]


def _excursions(
    cycles: Cycles, first: int, last: int, cut: tuple[bool, bool], rate_hz: float
) -> tuple[list[Excursion], Floats]:
    """Pair the ways into repetitions; the signal with its start position low."""
    points, shares = cycles.points[first:last], cycles.shares[first : last - 1]
    ways = len(points) - 1
    odd = ways % 2 == 1
    if odd and not any(cut):
        # a way too many between two rests: the one that is less like the others is left out
        points = points[1:] if abs(shares[0] - 1.0) > abs(shares[-1] - 1.0) else points[:-1]
        odd = False
    begins_inside = odd and cut[0] and (not cut[1] or shares[0] < shares[-1])
    starts_low = bool(cycles.signal_deg[points[0]] < cycles.signal_deg[points[1]]) != begins_inside
    signal = cycles.signal_deg if starts_low else -cycles.signal_deg
    signal = signal - np.median(signal[points[(1 if begins_inside else 0) :: 2]])
    found: list[Excursion] = []
    places = points.tolist()
    if begins_inside:
        # the way out was before the recording: only the way back is there
        back = excursion_between(signal, places[0], places[0], places[1], rate_hz)
        found.append(replace(back, rise=back.fall))
        places = places[1:]
    for low, high, next_low in zip(places[:-2:2], places[1:-1:2], places[2::2], strict=False):
        found.append(excursion_between(signal, low, high, next_low, rate_hz))
    if odd and not begins_inside:
        # the way back was after the recording; a fall of nothing says so
        found.append(excursion_between(signal, places[-2], places[-1], places[-1], rate_hz))
    return found, signal


def _level(signal: Floats, excursion: Excursion) -> float:
    """Usual place on the far side of an excursion."""
    return float(np.median(signal[int(excursion.up[1]) : int(excursion.down[1]) + 1]))


def _parted(excursions: list[Excursion], signal: Floats, rest_s: float, rate_hz: float) -> list[list[Excursion]]:
    """Group repetitions between rests; a pause or a hold that each repetition has is no rest.

    A rest is at the start position, or at a shallower place than the end range that others reach.
    """
    if not excursions:
        return []
    pauses = np.array([after.up[0] - before.down[0] for before, after in itertools.pairwise(excursions)]) / rate_hz
    longest_pause = max(rest_s, PAUSE_TIMES * float(np.median(pauses))) if len(pauses) else rest_s
    usually_away_s = float(np.median([each.down[1] - each.up[1] for each in excursions])) / rate_hz
    longest_away = max(rest_s, AWAY_TIMES * usually_away_s + AWAY_MORE_S)
    shallow = REST_LEVEL_SHARE * float(np.median([each.level for each in excursions]))
    groups: list[list[Excursion]] = [[]]
    for pause, each in zip([0.0, *pauses.tolist()], excursions, strict=True):
        rests = (each.down[1] - each.up[1]) / rate_hz > longest_away and _level(signal, each) < shallow
        if groups[-1] and (pause > longest_pause or rests):
            groups.append([])
        if not rests:
            groups[-1].append(each)
    return [group for group in groups if group]


def count_segment_repetitions(
    accelerometer_m_s2: Floats,
    gyroscope_rad_s: Floats,
    missing: Mask,
    rate_hz: float,
    settings: Settings | None = None,
    eligible: Mask | None = None,
) -> SegmentRepetitions:
    """Count the repetitions that one sensor shows, whatever segment it is on and however it is mounted.

    Parameters
    ----------
    accelerometer_m_s2 : ndarray of shape (n, 3)
        Specific force in m/s^2, sensor axes: at rest it points up.
    gyroscope_rad_s : ndarray of shape (n, 3)
        Angular rate in rad/s, sensor axes.
    missing : ndarray of bool of shape (n,)
        True where there is no measurement.
    rate_hz : float
        Sampling rate.
    settings : Settings, optional
        The group ``repetitions`` and the attitude filter are used; None takes the defaults.
    eligible : ndarray of bool of shape (n,), optional
        False where no repetition can be, such as before the sensor was worn; None allows all.

    Returns
    -------
    SegmentRepetitions
        Sets in time order, empty where no movement is repeated; at least two repetitions make a set.

    Raises
    ------
    RecordingError
        The arrays don't have these shapes, or hold values that are no numbers.
    """
    settings = settings or Settings()
    count = len(gyroscope_rad_s)
    for name, mask in (("missing", missing), ("eligible", eligible)):
        if mask is not None and np.shape(mask) != (count,):
            raise RecordingError(f"{name} must have the shape ({count},) as the samples do, got {np.shape(mask)}")
    motion = segment_motion(accelerometer_m_s2, gyroscope_rad_s, missing, rate_hz, settings.angle.attitude_filter)
    walks = strides(motion)
    may = ~motion.missing
    if eligible is not None:
        may &= block_mean(eligible.astype(float), motion.block) > 0.5
    limits = settings.repetitions
    bouts = find_bouts(motion, may & ~walks, limits.rest_s, limits.smallest_excursion_deg)
    bouts = through_jolts(motion, bouts, walks, may)
    on_foot = [bout for bout in bouts if is_walking(motion, bout)]
    for bout in bouts:
        walks[bout.first : bout.last + 1] = bout in on_foot
    sets = [
        each
        for bout in bouts
        if bout not in on_foot
        for each in _sets_of(motion, bout, settings)
        if each.most >= FEWEST_REPETITIONS
    ]
    edges = np.flatnonzero(np.diff(np.concatenate([[0], walks.astype(np.int8), [0]])))
    times = motion.first_s + edges / motion.rate_hz
    return SegmentRepetitions(
        sets=tuple(sets),
        walking=tuple((float(start), float(stop)) for start, stop in zip(times[::2], times[1::2], strict=True)),
    )
