"""What is wrong with a recording: refused where nothing can be measured from it, said where a reader should know.

Nothing is mended here. Gravity and the turning rate are checked against each other, because a wrong unit is the
commonest fault of a file and gives plausible nonsense: at rest an accelerometer reads gravity, and while it turns, the
gravity that it reads turns against the gyroscope's rate, da/dt = -w x a.
"""

from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from imu_rom.errors import RecordingError
from imu_rom.findings import Finding
from imu_rom.recording.model import Floats, Recording, Sensor
from imu_rom.settings import ReadingSettings
from imu_rom.units import STANDARD_GRAVITY_M_S2

__all__ = ["check_recording", "clipped_stretches", "fraction_missing"]

# the checks of gravity and units look at about this many samples a second
_CHECKED_HZ = 10.0
_QUIET_WINDOW_S = 1.0
# gravity's turn is compared over this time: long against a shake, short against a repetition
_TURN_S = 0.5
_DEG = 180 / np.pi
# twice what the fastest of these sensors are made for (2000 deg/s)
_IMPOSSIBLE_RAD_S = 70.0
_SHORTEST_CLIPPED_SAMPLES = 3
# without a declared full scale, no channel is clipped closer to rest than this
_SMALLEST_CLIPPED_M_S2 = 1.05 * STANDARD_GRAVITY_M_S2
_SMALLEST_CLIPPED_RAD_S = 0.2
# a parabola rounded to steps spends 1.4 times as long at its top step as in the two below
_CUT_OFF_RATIO = 4
# a sensor that repeats all six values bit by bit for so long has stopped measuring
_FROZEN_S = 1.0


def check_recording(
    recording: Recording, settings: ReadingSettings, tracked_points: Sequence[str] | None = None
) -> tuple[Finding, ...]:
    """Refuse a recording that nothing can be measured from, and say what a reader should know.

    Parameters
    ----------
    recording : Recording
        On its time base.
    settings : ReadingSettings
        Lowest rate, shortest duration, largest missing share, longest gap, gravity tolerance.
    tracked_points : sequence of str or None
        Sensors that will be used; None: all.

    Returns
    -------
    tuple of Finding
        Codes ``clipping``, ``axis-constant``, ``frozen``.

    Raises
    ------
    RecordingError
        Too slow, too short, too much missing, a sensor that is zero or constant, an accelerometer without gravity, or a
        gyroscope that turns at another rate than gravity does.
    """
    if recording.rate_hz < settings.lowest_rate_hz * (1 - 1e-3):
        raise RecordingError(
            f"the recording has {recording.rate_hz:.4g} samples a second, {settings.lowest_rate_hz:g} are needed",
            where=recording.label,
        )
    if recording.duration_s < settings.shortest_recording_s:
        raise RecordingError(
            f"the recording lasts {recording.duration_s:.3g} s, {settings.shortest_recording_s:g} s are needed",
            where=recording.label,
        )
    sensors = [sensor for name, sensor in recording.sensors.items() if tracked_points is None or name in tracked_points]
    findings: list[Finding] = []
    for sensor in sensors:
        where = f"{recording.label}, sensor on {sensor.tracked_point}"
        findings.extend(_check_alive(sensor, where))
    _check_missing(recording, sensors, settings)
    for sensor in sensors:
        where = f"{recording.label}, sensor on {sensor.tracked_point}"
        step = max(1, round(recording.rate_hz / _CHECKED_HZ))
        acceleration, rate = sensor.accelerometer_m_s2[::step], sensor.gyroscope_rad_s[::step]
        _check_gravity(acceleration, recording.rate_hz / step, settings.gravity_tolerance, where)
        _check_turning(acceleration, rate, recording.rate_hz / step, where)
        _check_possible(rate, where)
        findings.extend(_clipping(sensor, recording.rate_hz))
        findings.extend(_frozen(sensor, recording.rate_hz))
    return tuple(findings)


def fraction_missing(recording: Recording) -> dict[str, float]:
    """Share of a recording's samples that each sensor did not measure, filled or not.

    Parameters
    ----------
    recording : Recording
        On its time base.

    Returns
    -------
    dict of str to float
        Share by tracked point, 0 to 1.
    """
    return {
        name: (int(np.count_nonzero(sensor.missing)) + recording.filled_samples.get(name, 0)) / recording.sample_count
        for name, sensor in recording.sensors.items()
    }


def _check_missing(recording: Recording, sensors: Sequence[Sensor], settings: ReadingSettings) -> None:
    shares = fraction_missing(recording)
    names = {sensor.tracked_point for sensor in sensors}
    for gap in recording.gaps:
        if gap.tracked_point in names and gap.stop_s - gap.start_s > settings.longest_gap_s:
            raise RecordingError(
                f"the sensor delivered nothing for {gap.stop_s - gap.start_s:.0f} s, from {gap.start_s:.1f} s to "
                f"{gap.stop_s:.1f} s; at most {settings.longest_gap_s:g} s at a stretch can be missing",
                where=f"{recording.label}, sensor on {gap.tracked_point}",
                do="record again",
            )
    for name in names:
        if shares[name] > settings.largest_missing_share:
            raise RecordingError(
                f"{shares[name]:.0%} of the samples are missing; at most {settings.largest_missing_share:.0%} can be",
                where=f"{recording.label}, sensor on {name}",
                do="record again",
            )


def _check_alive(sensor: Sensor, where: str) -> list[Finding]:
    findings = []
    for kind, values in (("accelerometer", sensor.accelerometer_m_s2), ("gyroscope", sensor.gyroscope_rad_s)):
        dead = [_is_constant(values[:, axis]) for axis in range(3)]
        if all(dead):
            state = "is zero" if not values[0].any() else "gives the same value"
            raise RecordingError(f"the {kind} {state} throughout", where=where, do="record again with a working sensor")
        for axis in np.flatnonzero(dead):
            sentence = f"The {kind} of the sensor on {sensor.tracked_point} gives the same {'xyz'[axis]} throughout."
            findings.append(Finding("axis-constant", "problem", sentence, sensor=sensor.tracked_point))
    return findings


def _is_constant(values: Floats) -> bool:
    # almost always settled by the first samples
    return bool(values[0] == values[len(values) // 2]) and bool((values == values[0]).all())


def _check_gravity(acceleration: Floats, rate_hz: float, tolerance: float, where: str) -> None:
    """Refuse an accelerometer that does not read gravity in its quiet parts."""
    size = np.sqrt(np.einsum("ij,ij->i", acceleration, acceleration))
    window = max(int(rate_hz * _QUIET_WINDOW_S), 2)
    windows = size[: len(size) // window * window].reshape(-1, window)
    mean = windows.mean(axis=1)
    unsteady = windows.std(axis=1) / np.maximum(mean, np.finfo(float).tiny)
    quiet = unsteady <= np.quantile(unsteady, 0.25)
    level = float(np.median(mean[quiet]))
    # without a quiet part, as in a recording of nothing but walking, the mean is less sure
    allowed = tolerance + float(np.median(unsteady[quiet]))
    if abs(level / STANDARD_GRAVITY_M_S2 - 1) <= allowed:
        return
    probable = {
        "are probably in g": 1.0,
        "are probably in m/s^2 and were taken for g": STANDARD_GRAVITY_M_S2**2,
        "are probably in mg": 1e3,
        "are probably in thousandths of the unit that is given": STANDARD_GRAVITY_M_S2 * 1e3,
        "are probably in g and were taken for mg": STANDARD_GRAVITY_M_S2 * 1e-3,
    }
    guess = [words for words, expected in probable.items() if abs(level / expected - 1) <= allowed]
    if guess:
        raise RecordingError(
            f"the accelerometer reads {level:.3g} m/s^2 at rest where gravity is 9.81, so its values {guess[0]}",
            where=where,
            do="correct the unit",
        )
    without = "gravity was removed from it" if level < 0.5 * STANDARD_GRAVITY_M_S2 else "its scale is wrong"
    raise RecordingError(
        f"the accelerometer reads {level:.3g} m/s^2 at rest, not gravity's 9.81, so {without} or its unit is wrong",
        where=where,
        do="export the accelerometer as measured, with gravity",
    )


def _check_possible(rate: Floats, where: str) -> None:
    """Refuse a gyroscope that reads what no body part reaches."""
    fast = np.count_nonzero(np.abs(rate).max(axis=1) > _IMPOSSIBLE_RAD_S)
    if fast > max(3, 1e-3 * len(rate)):
        raise RecordingError(
            f"the gyroscope reads more than {_IMPOSSIBLE_RAD_S:g} rad/s again and again, which no body part reaches, "
            "so its values are probably in deg/s and were taken for rad/s",
            where=where,
            do="correct the unit",
        )


def _check_turning(acceleration: Floats, rate: Floats, rate_hz: float, where: str) -> None:
    """Refuse a gyroscope in the wrong unit, by comparing it with how gravity turns in the sensor."""
    span = max(int(_TURN_S * rate_hz), 1)
    # axis by axis in memory, which is several times faster than row by row
    (ax, ay, az), (wx, wy, wz) = np.ascontiguousarray(acceleration.T), np.ascontiguousarray(rate.T)
    # only where nothing but gravity acts: steps and shakes are far larger than gravity's turn
    shaken = np.abs(np.sqrt(ax * ax + ay * ay + az * az) - STANDARD_GRAVITY_M_S2) > 0.1 * STANDARD_GRAVITY_M_S2
    count = np.cumsum(shaken)
    calm = count[span + 1 :] == count[: -span - 1]
    if np.count_nonzero(calm) < span:
        return
    together = expected_power = seen_power = 0.0
    # -w x a, summed by trapezoids: what the accelerometer should have changed by
    for turning, axis in ((az * wy - ay * wz, ax), (ax * wz - az * wx, ay), (ay * wx - ax * wy, az)):
        steps = np.cumsum((turning[1:] + turning[:-1]) / (-2 * rate_hz))
        expected = (steps[span:] - steps[:-span])[calm]
        seen = (axis[span + 1 :] - axis[1:-span])[calm]
        # plain sums: a product by BLAS starts threads that cost more than they save here
        together += float((expected * seen).sum())
        expected_power += float((expected * expected).sum())
        seen_power += float((seen * seen).sum())
    if expected_power > 0 and seen_power > 0:
        agreement = together / np.sqrt(expected_power * seen_power)
        ratio = expected_power / together if agreement > 0.5 else 1.0
        # with 57.3 between the units, a factor of two either way leaves no doubt
        if _DEG / 2 < ratio < _DEG * 2:
            raise RecordingError(
                f"the gyroscope turns {ratio:.0f} times as fast as gravity does in the accelerometer, so its values "
                "are probably in deg/s and were taken for rad/s",
                where=where,
                do="correct the unit",
            )
        if 1 / (_DEG * 2) < ratio < 2 / _DEG:
            raise RecordingError(
                f"the gyroscope turns {1 / ratio:.0f} times as slowly as gravity does in the accelerometer, so its "
                "values are probably in rad/s and were taken for deg/s",
                where=where,
                do="correct the unit",
            )


# ------------------------------------------------------------------------------------------------ clipped and frozen


def clipped_stretches(sensor: Sensor, rate_hz: float) -> list[tuple[float, float]]:
    """Find where a sensor was at the end of its range.

    A channel is clipped where it stays exactly at its declared full scale, or at its largest or smallest value of the
    recording, for three samples or more. Where no full scale is declared, three things must come together, so that a
    quantised peak or a still sensor is not taken for clipping: that value is far from rest, most samples that reach it
    come in such runs, and it is reached several times as often as the values next to it.

    Parameters
    ----------
    sensor : Sensor
        Samples on an even time base.
    rate_hz : float
        Sampling rate.

    Returns
    -------
    list of tuple of float
        Start and stop of each stretch in seconds, in order, none touching another.
    """
    clipped = np.zeros(len(sensor.missing), dtype=bool)
    kinds = (
        (sensor.accelerometer_m_s2, sensor.full_scale_m_s2, _SMALLEST_CLIPPED_M_S2),
        (sensor.gyroscope_rad_s, sensor.full_scale_rad_s, _SMALLEST_CLIPPED_RAD_S),
    )
    for values, full_scale, smallest in kinds:
        for axis in range(3):
            for first, stop in _pinned_runs(values[:, axis], full_scale, smallest):
                together = [each[first:stop] for each, _, _ in kinds]
                # all six values repeated together were held by the logger, not clipped
                if any((each[1:] != each[:-1]).any() for each in together):
                    clipped[first:stop] = True
    return [(first / rate_hz, stop / rate_hz) for first, stop in _runs(clipped)]


def _pinned_runs(values: Floats, full_scale: float | None, smallest: float) -> Iterator[tuple[int, int]]:
    largest, least = float(values.max()), float(values.min())
    for extreme in (largest, least):
        # linear interpolation between two equal values may differ from them in the last digit
        slack = 1e-9 * abs(extreme)
        at_end = values >= largest - slack if extreme == largest else values <= least + slack
        count = int(np.count_nonzero(at_end))
        if count < _SHORTEST_CLIPPED_SAMPLES:
            continue
        runs = [run for run in _runs(at_end) if run[1] - run[0] >= _SHORTEST_CLIPPED_SAMPLES]
        if full_scale is not None and abs(extreme) >= 0.99 * full_scale:
            yield from runs
            continue
        if abs(extreme) < smallest or sum(stop - first for first, stop in runs) < 0.5 * count:
            continue
        # a peak that is round spends as long near its top as at it; one that is cut off does not
        near = max(2.01 * _resolution(values), 0.002 * (largest - least))
        beside = int(np.count_nonzero(np.abs(values - extreme) <= near)) - count
        if count >= _CUT_OFF_RATIO * beside:
            yield from runs


def _resolution(values: Floats) -> float:
    """Find the smallest step between two values of a channel."""
    levels = np.unique(values[:: max(1, len(values) // 5000)])
    steps = np.diff(levels)
    steps = steps[steps > 1e-9 * max(abs(levels[0]), abs(levels[-1]))]
    return float(steps.min()) if len(steps) else 0.0


def _runs(flags: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Find the stretches of True: first index, and the index behind the last."""
    edges = np.flatnonzero(np.diff(np.concatenate(([False], flags, [False]))))
    return [(int(first), int(stop)) for first, stop in edges.reshape(-1, 2)]


def _clipping(sensor: Sensor, rate_hz: float) -> list[Finding]:
    return [
        Finding(
            "clipping",
            "caution",
            f"The sensor on {sensor.tracked_point} was at the end of its range from {start_s:.2f} s to {stop_s:.2f} s.",
            start_s,
            stop_s,
            sensor.tracked_point,
        )
        for start_s, stop_s in clipped_stretches(sensor, rate_hz)
    ]


def _frozen(sensor: Sensor, rate_hz: float) -> list[Finding]:
    """Find stretches in which a sensor repeats itself bit by bit although it was not flagged as missing."""
    longest = max(int(_FROZEN_S * rate_hz), 2)
    first_axis = sensor.gyroscope_rad_s[:, 0]
    candidates = [run for run in _runs(first_axis[1:] == first_axis[:-1]) if run[1] - run[0] >= longest]
    findings = []
    for first, last in candidates:
        stretch = slice(first, last + 1)
        if sensor.missing[stretch].any():
            continue
        still = np.ones(last - first, dtype=bool)
        for values in (sensor.accelerometer_m_s2[stretch], sensor.gyroscope_rad_s[stretch]):
            still &= (values[1:] == values[:-1]).all(axis=1)
        for begin, end in _runs(still):
            if end - begin < longest:
                continue
            start_s, stop_s = (first + begin) / rate_hz, (first + end) / rate_hz
            sentence = (
                f"The sensor on {sensor.tracked_point} repeated the same values from {start_s:.2f} s to "
                f"{stop_s:.2f} s, as one that has stopped measuring does."
            )
            findings.append(Finding("frozen", "caution", sentence, start_s, stop_s, sensor.tracked_point))
    return findings
