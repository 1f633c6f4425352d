"""The part of a recording in which both sensors are worn with the mounting that the sets have.

Sensors are switched on at a table and taped on in turn; while one is handled nothing ties it to the other. Once both
are worn two things stay as they are for good, whatever the person does: the joint's axis is tilted against gravity
alike for both, and its heading differs between them by a constant (up to slow drift). Going outwards from the longest
stretch in which both hold, the worn part ends where either is broken for longer than a step can. A soft layer under
a sensor gives way to gravity, so a recording in which both hold loosely from beginning to end is worn altogether.

A sensor that slips on its segment breaks them too, but only by a step: behind it both hold again at another tilt. So
the worn part goes on over a step of up to 20 degrees behind which the tilt stays, as it does on nobody's table, while
the sensors keep moving as before.
"""

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

__all__ = ["worn_part"]

Floats = NDArray[np.float64]

# First bounds: a step or a stumble may bend the foot sideways by this much; handling a loose sensor goes far past it.
LARGEST_TILT_RAD = np.radians(7.0)
LARGEST_HEADING_JUMP_RAD = np.radians(30.0)
# Then the person's own: this many times the spread while worn, but not below what a looser joint may do.
SPREADS = 5.0
SMALLEST_TILT_BOUND_RAD = np.radians(2.5)
SMALLEST_HEADING_BOUND_RAD = np.radians(10.0)
# Where nothing is broken from the first look to the last by as much as this, nothing was handled: two sensors on foam
# may lean by that much against each other, while one on its way from a table to a leg goes far past it.
LARGEST_LEAN_RAD = np.radians(15.0)
# A slip turns a sensor by no more than this; within these seconds it has settled, for most of them.
LARGEST_SLIP_RAD = np.radians(20.0)
SETTLED_S = 20.0
SETTLED_SHARE = 0.8
MOST_SLIPS = 4
# Share of the worn part's own wobble below which nobody wears the sensors.
LEAST_MOVEMENT = 0.2
LOOK_S = 3.0
LONGEST_BLIP_S = 2.0
RECOVERY_S = 3.0
# Share by which the carried heading follows each new look, per second: slow drift is followed, a jump is not.
FOLLOW = 0.2


def _near_missing(missing: NDArray[np.bool_], rate_hz: float, looks: int, width: int) -> NDArray[np.bool_]:
    """Tell which looks lie within a gap, or while the filters find their inclination again behind it."""
    if not missing.any():
        return np.zeros(looks, dtype=bool)
    after = np.convolve(missing, np.ones(max(1, round(RECOVERY_S * rate_hz))))[: len(missing)]
    return np.asarray(_windows(after > 0, looks, width).any(axis=1))


def _look_starts(count: int, looks: int, width: int) -> NDArray[np.int64]:
    """First sample of each window, from the recording's first to its last one."""
    return np.linspace(0, max(0, count - width), looks).astype(np.int64)


def _windows(values: NDArray[Any], looks: int, width: int) -> NDArray[Any]:
    """Windows of ``width`` samples, one a half-second step, as rows of an array of their own."""
    starts = _look_starts(len(values), looks, width)
    return np.asarray(np.lib.stride_tricks.sliding_window_view(values, min(width, len(values)))[starts])


def _median_looks(values: Floats, looks: int, width: int) -> Floats:
    windows = _windows(values, looks, width)
    # five times as fast as np.median, which sorts by more than one place to find values that are none
    half = windows.shape[1] // 2
    windows.partition(half, axis=1)
    upper = windows[:, half]
    return np.asarray(upper if windows.shape[1] % 2 else (windows[:, :half].max(axis=1) + upper) / 2)


def worn_part(
    tilt_disagreement_rad: Floats,
    heading_difference_rad: Floats,
    flatness: Floats,
    missing: NDArray[np.bool_],
    rate_hz: float,
) -> tuple[float, float]:
    """Find the stretch in which both sensors are worn with one mounting.

    Parameters
    ----------
    tilt_disagreement_rad : ndarray of shape (m,)
        From `alignment.tilt_disagreement_rad`.
    heading_difference_rad, flatness : ndarray of shape (m,)
        From `heading.heading_difference_rad`.
    missing : ndarray of bool of shape (m,)
        True where a sensor delivered nothing: nothing is known there, and each filter may come out of it with another
        heading.
    rate_hz : float
        Rate of these arrays.

    Returns
    -------
    start_s, stop_s : float
        Seconds from the recording's start.
    """
    duration = len(flatness) / rate_hz
    width = max(1, round(LOOK_S * rate_hz))
    looks = max(1, int(duration * 2))
    signed = _median_looks(tilt_disagreement_rad, looks, width)
    tilt = _median_looks(np.abs(tilt_disagreement_rad), looks, width)
    vector = flatness * np.exp(1j * heading_difference_rad)
    heading = _median_looks(vector.real, looks, width) + 1j * _median_looks(vector.imag, looks, width)
    shows = np.abs(heading) > 0.3
    angle = np.angle(heading)
    unknown = _near_missing(missing, rate_hz, looks, width)
    run = _longest_run(tilt, shows, angle, unknown, LARGEST_TILT_RAD, LARGEST_HEADING_JUMP_RAD)
    if run is None:
        return 0.0, duration
    if _longest_run(tilt, shows, angle, unknown, LARGEST_LEAN_RAD, LARGEST_HEADING_JUMP_RAD) == (0, looks - 1):
        return 0.0, duration
    inside = slice(run[0], run[1] + 1)
    jumps = np.abs(np.angle(heading[inside][1:] * np.conj(heading[inside][:-1])))
    own = (
        max(SMALLEST_TILT_BOUND_RAD, SPREADS * 1.4826 * float(np.median(tilt[inside]))),
        max(SMALLEST_HEADING_BOUND_RAD, SPREADS * 1.4826 * float(np.median(jumps)) if len(jumps) else 0.0),
    )
    first, last = (
        _longest_run(tilt, shows, angle, unknown, min(own[0], LARGEST_TILT_RAD), min(own[1], LARGEST_HEADING_JUMP_RAD))
        or run
    )
    moves = _windows(tilt_disagreement_rad, looks, width).std(axis=1)
    first, last = _over_slips((first, last), signed, moves, (shows, angle, unknown), own)
    # a look's median is broken from where half of its window is
    middles = (_look_starts(len(flatness), looks, width) + 0.5 * width) / rate_hz
    begin = float(middles[first]) if first else 0.0
    end = duration if last >= looks - 1 else float(middles[last])
    # one look that fits is no part, as where none does
    return (begin, min(end, duration)) if begin < end else (0.0, duration)


def _over_slips(
    run: tuple[int, int],
    tilt: Floats,
    moves: Floats,
    heading: tuple[NDArray[np.bool_], Floats, NDArray[np.bool_]],
    bounds: tuple[float, float],
) -> tuple[int, int]:
    """Carry a run on, both ways, over steps behind which the tilt stays at another level."""
    first, last = run
    quietest = LEAST_MOVEMENT * float(np.median(moves[first : last + 1]))
    shows, angle, unknown = heading
    for direction in (-1, 1):
        for _ in range(MOST_SLIPS):
            edge = last if direction > 0 else first
            inner = edge + direction * round(2 * LONGEST_BLIP_S)
            outer = inner + direction * round(2 * SETTLED_S)
            if not 0 <= outer < len(tilt):
                break
            span = slice(min(inner, outer), max(inner, outer) + 1)
            beyond = tilt[span]
            level = float(np.median(beyond))
            turned = np.angle(np.exp(1j * (angle[span][shows[span]] - angle[edge]))) if shows[edge] else np.empty(0)
            if len(turned) and abs(float(np.median(turned))) > LARGEST_HEADING_JUMP_RAD:
                break
            fits = np.abs(tilt - level) < min(bounds[0], LARGEST_TILT_RAD)
            if abs(level) > LARGEST_SLIP_RAD or np.mean(np.abs(beyond - level) < bounds[0]) < SETTLED_SHARE:
                break
            looks = list(zip(fits.tolist(), shows.tolist(), angle.tolist(), unknown.tolist(), strict=True))
            onward = _follow((inner + outer) // 2, looks, min(bounds[1], LARGEST_HEADING_JUMP_RAD))
            behind = moves[max(onward[0], span.start) : onward[1] + 1]
            reached = onward[1] if direction > 0 else onward[0]
            if (reached - outer) * direction < 0 or float(np.median(behind)) < quietest:
                break
            first, last = (first, reached) if direction > 0 else (reached, last)
    return first, last


def _longest_run(
    tilt: Floats,
    shows: NDArray[np.bool_],
    angle: Floats,
    unknown: NDArray[np.bool_],
    largest_tilt: float,
    largest_jump: float,
) -> tuple[int, int] | None:
    """Longest stretch of looks in which the mounting holds: first and last look."""
    fits = tilt < largest_tilt
    looks = list(zip(fits.tolist(), shows.tolist(), angle.tolist(), unknown.tolist(), strict=True))
    runs: list[tuple[int, int]] = []
    for start in _run_starts(fits):
        # what a run has passed it need not be followed from again: an hour has thousands of looks
        if not runs or start > runs[-1][1]:
            runs.append(_follow(start, looks, largest_jump))
    # nothing was measured, or not yet well, in a run that a gap alone makes
    runs = [run for run in runs if not unknown[run[0] : run[1] + 1].all()]
    return max(runs, key=lambda run: run[1] - run[0]) if runs else None


def _run_starts(fits: NDArray[np.bool_]) -> list[int]:
    """First look of each stretch that fits, and one look in ten within it, as starts to follow from."""
    inside = np.flatnonzero(fits)
    firsts = inside[np.diff(inside, prepend=-2) > 1]
    return sorted({*firsts.tolist(), *inside[::20].tolist()})


def _follow(start: int, looks: list[tuple[bool, bool, float, bool]], largest_jump: float) -> tuple[int, int]:
    """Go both ways from a look while the mounting holds; returns first and last look."""
    ends = []
    for direction in (-1, 1):
        _, shows, angle, _ = looks[start]
        carried = angle if shows else None
        last, broken, index = start, 0, start
        while 0 <= index < len(looks) and broken <= LONGEST_BLIP_S * 2:
            fits, shows, angle, unknown = looks[index]
            if unknown:
                carried, broken = None, 0
                index += direction
                continue
            off = None
            if shows:
                off = 0.0 if carried is None else math.remainder(angle - carried, math.tau)
            if fits and (off is None or abs(off) < largest_jump):
                last, broken = index, 0
                if off is not None:
                    carried = angle if carried is None else carried + FOLLOW / 2 * off
            else:
                broken += 1
            index += direction
        ends.append(last)
    return ends[0], ends[1]
