"""A check that a clinic does with its sensors: both on a straight edge, set to known angles; composition only."""

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from imu_rom.errors import CannotAnswerError, SettingError
from imu_rom.motion.gyroscope_check import TurnCheck, gyroscope_scale_error, turn_checks
from imu_rom.motion.rests import SHORTEST_REST_S, find_rests
from imu_rom.motion.sensor_check import (
    SensorReadings,
    TiltPlane,
    pair_positions,
    read_rests,
    sensor_positions,
    tilt_plane,
)
from imu_rom.motion.small_samples import NORMAL_FACTOR, coverage_factor
from imu_rom.recording.model import InputFile, Recording
from imu_rom.session.sensor_check_result import CheckedPair, CheckedSensor, Position, SensorCheck
from imu_rom.session.sensor_findings import sensor_findings
from imu_rom.settings import Settings, UncertaintySettings

__all__ = ["check_sensors"]

Floats = NDArray[np.float64]

LARGEST_ANGLE_DEG = 360.0
SMALLEST_SPREAD_DEG = 10.0
"""Angles that lie closer together, or opposite each other, do not show the axis of tilting."""
SHORTEST_NAMED_S = 2.0
GRAVITY_M_S2 = 9.81
LARGEST_BIAS_M_S2 = 5.0
WRONG_ORDER_DEG = 15.0
"""No sensor is off by so much: the edge was not where it was said to be."""


def check_sensors(
    recording: Recording,
    angles_deg: Sequence[float],
    *,
    u_reference_deg: float = 0.5,
    proximal: str | None = None,
    distal: str | None = None,
    stretches_s: Sequence[tuple[float, float]] = (),
    settings: Settings | None = None,
    inputs: Sequence[InputFile] = (),
) -> SensorCheck:
    """Check one or two sensors that lay on a straight edge at known angles.

    Parameters
    ----------
    recording : Recording
        What was measured.
    angles_deg : sequence of float
        Inclination of the edge in each position, in order; the first is what the others are compared with.
    u_reference_deg : float
        Standard uncertainty with which one angle is set.
    proximal, distal : str, optional
        Tracked points of the two sensors; None takes the recording's first ones.
    stretches_s : sequence of (float, float), optional
        Where the positions are, in seconds; empty finds them.
    settings : Settings, optional
        All tunables; None takes the defaults.
    inputs : sequence of InputFile, optional
        Further files that were read, for provenance.

    Returns
    -------
    SensorCheck
        Errors of each sensor and of both together, with their uncertainty.

    Raises
    ------
    SettingError
        The angles or their uncertainty can't be used.
    RecordingError
        A tracked point is not in the recording.
    CannotAnswerError
        The still stretches are not as many as the angles, or the sensors did not follow the angles.
    """
    settings = settings or Settings()
    reference = _checked_angles(angles_deg, u_reference_deg)
    points = _points(recording, proximal, distal)
    sensors = [recording.sensor(point) for point in points]
    missing = np.logical_or.reduce([each.missing for each in sensors])
    forces = [np.asarray(each.accelerometer_m_s2) for each in sensors]
    rates = [np.asarray(each.gyroscope_rad_s) for each in sensors]
    if stretches_s:
        rests = _named(recording, stretches_s, missing)
    else:
        rests = find_rests(forces, rates, missing, recording.rate_hz)
    readings = (
        [read_rests(*each, rests, recording.rate_hz) for each in zip(forces, rates, strict=True)] if rests else []
    )
    if len(rests) != len(reference):
        raise _count_error(recording, points, rests, readings, reference, named=bool(stretches_s))
    tilted = _tilted(recording, points, readings, reference)
    planes = [tilt_plane(each, reference) if moves else None for each, moves in zip(readings, tilted, strict=True)]
    checked = tuple(
        _checked_sensor(point, each, plane, rate, missing, rests, recording.rate_hz, reference, u_reference_deg)
        for point, each, plane, rate in zip(points, readings, planes, rates, strict=True)
    )
    _check_order(recording, checked, reference)
    pair = _checked_pair(points, readings, planes, reference, u_reference_deg)
    return SensorCheck(
        recording=recording,
        positions=tuple(
            Position(float(angle), start / recording.rate_hz, stop / recording.rate_hz)
            for angle, (start, stop) in zip(reference, rests, strict=True)
        ),
        u_reference_deg=u_reference_deg,
        sensors=checked,
        pair=pair,
        plan_parts=_plan_parts(pair, settings.uncertainty),
        inputs=(*recording.files, *inputs),
        settings=settings,
        findings=(*recording.findings, *sensor_findings(checked, pair)),
    )


def _checked_angles(angles_deg: Sequence[float], u_reference_deg: float) -> Floats:
    where = "angles"
    if len(angles_deg) < 2:
        raise SettingError(f"must be at least two, got {len(angles_deg)}", where=where)
    for each in angles_deg:
        if not abs(each) <= LARGEST_ANGLE_DEG:
            raise SettingError(f"must lie in -360 to 360 deg, got {each:g}", where=where)
    reference = np.array(angles_deg, dtype=np.float64)
    spread = np.abs(np.sin(np.radians(reference[:, None] - reference)))
    if spread.max() < math.sin(math.radians(SMALLEST_SPREAD_DEG)):
        raise SettingError(
            f"two of them must differ by {SMALLEST_SPREAD_DEG:g} deg or more and not lie opposite each other, got "
            f"{', '.join(f'{each:g}' for each in angles_deg)}",
            where=where,
            do="tilt the edge further, such as to 0, 45 and 90 deg",
        )
    if not 0.0 <= u_reference_deg <= 10.0:
        raise SettingError(f"must lie in 0 to 10 deg, got {u_reference_deg:g}", where="reference uncertainty")
    return reference


def _points(recording: Recording, proximal: str | None, distal: str | None) -> list[str]:
    named = [proximal, distal]
    others = [each for each in recording.sensors if each not in named]
    chosen = [each if each is not None else (others.pop(0) if others else None) for each in named]
    return list(dict.fromkeys(each for each in chosen if each is not None))


def _named(
    recording: Recording, stretches_s: Sequence[tuple[float, float]], missing: NDArray[np.bool_]
) -> list[tuple[int, int]]:
    found: list[tuple[int, int]] = []
    for start_s, stop_s in stretches_s:
        said = f"the stretch {start_s:g}:{stop_s:g}"
        start, stop = round(start_s * recording.rate_hz), round(stop_s * recording.rate_hz)
        if stop > recording.sample_count:
            what = f"{said} must lie within the recording, which ends at {recording.duration_s:.1f} s"
            raise CannotAnswerError(what, where=recording.label)
        if stop_s - start_s < SHORTEST_NAMED_S:
            what = f"{said} must be {SHORTEST_NAMED_S:g} s or longer"
            raise CannotAnswerError(what, where=recording.label)
        if found and start < found[-1][1]:
            raise CannotAnswerError(f"{said} must begin after the one before it ends", where=recording.label)
        if missing[start:stop].any():
            raise CannotAnswerError(f"{said} must lie outside the gaps in the data", where=recording.label)
        found.append((start, stop))
    return found


def _changes_deg(readings: SensorReadings) -> Floats:
    return np.asarray(np.degrees(np.arccos(np.clip(readings.up @ readings.up[0], -1.0, 1.0))))


def _count_error(
    recording: Recording,
    points: Sequence[str],
    rests: Sequence[tuple[int, int]],
    readings: Sequence[SensorReadings],
    reference: Floats,
    *,
    named: bool,
) -> CannotAnswerError:
    places = [f"{start / recording.rate_hz:.1f} to {stop / recording.rate_hz:.1f} s" for start, stop in rests]
    if readings:
        changes = [_changes_deg(each) for each in readings]
        for index in range(len(places)):
            tilts = ", ".join(f"{point} {each[index]:.0f}" for point, each in zip(points, changes, strict=True))
            places[index] += f" (tilted by {tilts} deg)"
    kind = "stretches" if named else f"still stretches of {SHORTEST_REST_S:g} s or longer"
    listed = f": {'; '.join(places)}" if places else ""
    verb = "named" if named else "found"
    return CannotAnswerError(
        f"{len(reference)} angles are named but {len(rests)} {kind} were {verb}{listed}",
        where=recording.label,
        do="name as many of each"
        if named
        else "leave the edge alone for ten seconds in each position and nowhere else, or name the stretches by --at",
    )


def _tilted(
    recording: Recording, points: Sequence[str], readings: Sequence[SensorReadings], reference: Floats
) -> list[bool]:
    """Tell which sensors followed the reference and which stayed where they were."""
    asked = float(np.degrees(np.arccos(np.cos(np.radians(reference - reference[0])))).max())
    reached = [float(_changes_deg(each).max()) for each in readings]
    tilted = [each > 0.6 * asked for each in reached]
    stayed = [each < min(5.0, 0.2 * asked) for each in reached]
    if not any(tilted) or not all(one or other for one, other in zip(tilted, stayed, strict=True)):
        said = " and ".join(f"{point} by {each:.1f}" for point, each in zip(points, reached, strict=True))
        raise CannotAnswerError(
            f"the sensors did not follow the angles: the named ones tilt by {asked:.0f} deg, but the farthest change "
            f"was that of {said} deg",
            where=recording.label,
            do="fix both to the edge, or one to each leg of a hinged square, and tilt it up from level; turning it "
            "round on the table shows nothing",
        )
    return tilted


def _check_order(recording: Recording, checked: Sequence[CheckedSensor], reference: Floats) -> None:
    for each in checked:
        worst = max((abs(position.error_deg) for position in each.positions), default=0.0)
        if worst > WRONG_ORDER_DEG:
            tilts = ", ".join(f"{position.tilt_deg:.0f}" for position in each.positions)
            asked = ", ".join(f"{angle - reference[0]:.0f}" for angle in reference)
            raise CannotAnswerError(
                f"the sensor on {each.tracked_point!r} tilted by {tilts} deg where {asked} deg were named, more than "
                "any sensor's error",
                where=recording.label,
                do="name the angles in the order in which they were set",
            )


def _checked_sensor(
    point: str,
    readings: SensorReadings,
    plane: TiltPlane | None,
    rate_rad_s: Floats,
    missing: NDArray[np.bool_],
    rests: Sequence[tuple[int, int]],
    rate_hz: float,
    reference: Floats,
    u_reference_deg: float,
) -> CheckedSensor:
    turns: list[TurnCheck] = []
    scale: tuple[float | None, float | None] = (None, None)
    if plane is not None:
        turns = turn_checks(rate_rad_s, missing, rests, rate_hz, readings, plane, reference, u_reference_deg)
        scale = gyroscope_scale_error(turns, u_reference_deg) or scale
    bias = np.degrees(readings.rate_rad_s)
    mean_bias = bias.mean(axis=0)
    gravity = readings.gravity_m_s2
    return CheckedSensor(
        tracked_point=point,
        tilted=plane is not None,
        moved_deg=float(_changes_deg(readings).max()),
        positions=() if plane is None else tuple(sensor_positions(plane, reference, u_reference_deg)),
        gravity_m_s2=float(gravity.mean()),
        gravity_low_m_s2=float(gravity.min()),
        gravity_high_m_s2=float(gravity.max()),
        accelerometer_bias_at_least_m_s2=_bias_at_least_m_s2(readings),
        accelerometer_noise_m_s2=readings.accelerometer_noise_m_s2,
        gyroscope_bias_deg_s=(float(mean_bias[0]), float(mean_bias[1]), float(mean_bias[2])),
        gyroscope_bias_change_deg_s=float(np.ptp(bias, axis=0).max()),
        gyroscope_noise_deg_s=float(np.degrees(readings.gyroscope_noise_rad_s)),
        turns=tuple(turns),
        gyroscope_scale_error=scale[0],
        u_gyroscope_scale_error=scale[1],
    )


def _bias_at_least_m_s2(readings: SensorReadings) -> float:
    # a bias adds its part along the direction of gravity; the farther apart two directions are, the less noise counts
    apart = np.linalg.norm(readings.up[:, None] - readings.up, axis=2)
    first, second = np.unravel_index(int(apart.argmax()), apart.shape)
    if apart[first, second] < np.sin(np.radians(SMALLEST_SPREAD_DEG)):
        return 0.0
    return float(abs(readings.gravity_m_s2[first] - readings.gravity_m_s2[second]) / apart[first, second])


def _checked_pair(
    points: Sequence[str],
    readings: Sequence[SensorReadings],
    planes: Sequence[TiltPlane | None],
    reference: Floats,
    u_reference_deg: float,
) -> CheckedPair | None:
    if len(points) < 2:
        return None
    resting = next((each for each, plane in zip(readings, planes, strict=True) if plane is None), None)
    positions = pair_positions(planes[0], planes[1], resting, reference, u_reference_deg)
    squared = np.radians([each.error_deg for each in positions[1:]]) ** 2
    squared -= np.radians([each.u_deg for each in positions[1:]]) ** 2
    turned = [point for point, plane in zip(points, planes, strict=True) if plane is not None]
    # a bias turns the vertical by b / g; what is left of it after a tilt by a goes with 2 sin(a / 2), in each sensor
    growth = 4.0 * np.sin(np.radians(reference[1:] - reference[0]) / 2.0) ** 2 / GRAVITY_M_S2**2
    across = max(float(squared.sum() / (len(turned) * growth.sum())), 0.0)
    # and the part of it along gravity lengthens that; both are parts of the same biases, pooled by how many there are
    along = [_bias_at_least_m_s2(each) ** 2 for each, plane in zip(readings, planes, strict=True) if plane is not None]
    pooled = (len(squared) * across + sum(along)) / (len(squared) + len(along))
    return CheckedPair(
        proximal=points[0],
        distal=points[1],
        way="both tilted" if resting is None else "one tilted",
        tilted=None if resting is None else turned[0],
        positions=tuple(positions),
        error_rms_deg=math.degrees(math.sqrt(max(float(squared.mean()), 0.0))),
        accelerometer_bias_m_s2=math.sqrt(pooled),
    )


def _plan_parts(pair: CheckedPair | None, usual: UncertaintySettings) -> dict[str, float]:
    if pair is None or pair.accelerometer_bias_m_s2 <= usual.accelerometer_bias_m_s2:
        return {}
    # so few values know their own size badly
    values = len(pair.positions) - 1 + (2 if pair.tilted is None else 1)
    factor = coverage_factor(values) / NORMAL_FACTOR
    return {"accelerometer_bias_m_s2": min(pair.accelerometer_bias_m_s2 * factor, LARGEST_BIAS_M_S2)}
