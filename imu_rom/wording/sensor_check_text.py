"""A check of the sensors in sentences and tables."""

from collections.abc import Sequence
from itertools import pairwise

from imu_rom.motion.gyroscope_check import TurnCheck
from imu_rom.motion.sensor_check import PairPosition, SensorPosition
from imu_rom.session.sensor_check_result import CheckedPair, CheckedSensor, SensorCheck
from imu_rom.wording.figures import one_decimal

__all__ = [
    "NOT_SHOWN",
    "joined",
    "position_headings",
    "position_rows",
    "rest_headings",
    "rest_rows",
    "sensor_check_sentences",
    "turn_headings",
    "turn_rows",
    "two_decimals",
]

NONE = "-"
NOT_SHOWN = (
    (
        "How a sensor sits on the edge is not known, and an error that is the same in every position looks just like "
        "it. Neither can be seen here, and neither does harm: joint angles count from the neutral pose."
    ),
    (
        "The sensors were tilted about one axis, between moments of rest, with no skin beneath. Errors about other "
        "axes, of quick movement, of the heading and of soft tissue are not in these figures."
    ),
)


def two_decimals(value: float) -> str:
    """Write a number with two decimals.

    Parameters
    ----------
    value : float
        Any number.

    Returns
    -------
    str
        Without a minus in front of zero.
    """
    return f"{round(value, 2) + 0.0:.2f}"


def joined(words: Sequence[str]) -> str:
    """Join words with commas and a last "and".

    Parameters
    ----------
    words : sequence of str
        One or more.

    Returns
    -------
    str
        Such as ``"0, 45 and 90"``.
    """
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def _with_interval(each: SensorPosition | PairPosition) -> str:
    return f"{two_decimals(each.error_deg)} ({two_decimals(each.low_deg)} to {two_decimals(each.high_deg)})"


def _worst(check: SensorCheck, positions: Sequence[SensorPosition | PairPosition]) -> tuple[str, bool]:
    """Say the largest error, and whether all of them could be chance and reference alone."""
    index = max(range(1, len(positions)), key=lambda at: abs(positions[at].error_deg))
    worst = positions[index]
    said = (
        f"{two_decimals(worst.error_deg)} deg ({two_decimals(worst.low_deg)} to {two_decimals(worst.high_deg)}), "
        f"at {check.positions[index].reference_deg:g} deg"
    )
    return said, all(each.low_deg <= 0.0 <= each.high_deg for each in positions[1:])


def sensor_check_sentences(check: SensorCheck) -> list[str]:
    """Say what a check of the sensors shows.

    Parameters
    ----------
    check : SensorCheck
        Rounded.

    Returns
    -------
    list of str
        The pair, each sensor, the angles; plain sentences.
    """
    angles = joined([f"{each.reference_deg:g}" for each in check.positions])
    found = [] if check.pair is None else _pair_sentences(check, check.pair)
    found += [_sensor_sentence(check, each) for each in check.sensors]
    found.append(
        f"The edge was set to {angles} deg, each setting taken to be right within a standard uncertainty of "
        f"{check.u_reference_deg:g} deg; all changes are those since the first position."
    )
    found.append(_rate_sentence(check))
    return found


def _rate_sentence(check: SensorCheck) -> str:
    recording = check.recording
    points = [each.tracked_point for each in check.sensors]
    lost = {
        point: int(recording.sensors[point].missing.sum()) + recording.filled_samples.get(point, 0) for point in points
    }
    return (
        f"Recorded at {recording.rate_hz:g} Hz, {recording.sample_count} samples a sensor, of which were missing: "
        f"{', '.join(f'{count} of {point}' for point, count in lost.items())}."
    )


def _pair_sentences(check: SensorCheck, pair: CheckedPair) -> list[str]:
    worst, _ = _worst(check, pair.positions)
    if pair.way == "both tilted":
        first = (
            f"Both together: the angle between {pair.proximal} and {pair.distal}, which should have stayed as it was, "
            f"changed by up to {worst}. The reference does not enter here."
        )
    else:
        still = pair.proximal if pair.tilted == pair.distal else pair.distal
        first = (
            f"Joint angle: while {still} lay still and {pair.tilted} was tilted, the angle was off by up to {worst}."
        )
    usual = check.settings.uncertainty.accelerometer_bias_m_s2
    explained = (
        f"Accelerometer biases of {two_decimals(pair.accelerometer_bias_m_s2)} m/s2 on each axis, in the root mean "
        "square over both sensors, would explain that and how gravity differs between the positions"
    )
    allowed = f"{usual:g} that the uncertainty of every angle allows for"
    if not check.plan_parts:
        return [first, f"{explained}, no more than the {allowed}, so nothing needs to change."]
    planned = two_decimals(check.plan_parts["accelerometer_bias_m_s2"])
    second = (
        f"{explained}, more than the {allowed}: name this check in the plan, which then reckons with {planned} (more "
        f"again, because {len(pair.positions)} positions are few), or have the sensors calibrated."
    )
    return [first, second]


def _sensor_sentence(check: SensorCheck, sensor: CheckedSensor) -> str:
    parts = []
    if sensor.positions:
        worst, explained = _worst(check, sensor.positions)
        how = "no more than the reference explains" if explained else "more than the reference explains"
        parts.append(f"inclination off by up to {worst}, {how}")
    else:
        parts.append(f"lay still, within {two_decimals(sensor.moved_deg)} deg")
    if sensor.gyroscope_scale_error is not None and sensor.u_gyroscope_scale_error is not None:
        parts.append(
            f"gyroscope turns too far by {one_decimal(100.0 * sensor.gyroscope_scale_error)} % (standard uncertainty "
            f"{one_decimal(100.0 * sensor.u_gyroscope_scale_error)} %)"
        )
    bias = joined([two_decimals(each) for each in sensor.gyroscope_bias_deg_s])
    parts.append(f"reads {bias} deg/s at rest")
    parts.append(f"measures gravity as {two_decimals(sensor.gravity_m_s2)} m/s2")
    return f"{sensor.tracked_point}: {'; '.join(parts)}."


def position_headings(check: SensorCheck) -> tuple[str, ...]:
    """Give the headings of the table of positions.

    Parameters
    ----------
    check : SensorCheck
        For the sensors' names.

    Returns
    -------
    tuple of str
        One a column.
    """
    names = [f"{each.tracked_point} error, deg" for each in check.sensors if each.positions]
    pair = (
        [] if check.pair is None else ["both together, deg" if check.pair.tilted is None else "joint angle error, deg"]
    )
    return ("set to, deg", "from-to, s", *names, *pair)


def position_rows(check: SensorCheck) -> list[tuple[str, ...]]:
    """Give the cells of the table of positions.

    Parameters
    ----------
    check : SensorCheck
        Rounded.

    Returns
    -------
    list of tuple of str
        Errors with their 95 % intervals; the first position is what the others are compared with.
    """
    columns: list[Sequence[SensorPosition | PairPosition]] = [
        each.positions for each in check.sensors if each.positions
    ]
    if check.pair is not None:
        columns.append(check.pair.positions)
    return [
        (
            f"{place.reference_deg:g}",
            f"{place.start_s:.1f}-{place.stop_s:.1f}",
            *("reference" if index == 0 else _with_interval(column[index]) for column in columns),
        )
        for index, place in enumerate(check.positions)
    ]


def turn_headings(check: SensorCheck) -> tuple[str, ...]:
    """Give the headings of the table of turns.

    Parameters
    ----------
    check : SensorCheck
        For the sensors' names.

    Returns
    -------
    tuple of str
        One a column.
    """
    return ("turned, deg", *(f"{each.tracked_point} gyroscope, deg" for each in check.sensors if each.turns))


def turn_rows(check: SensorCheck) -> list[tuple[str, ...]]:
    """Give the cells of the table of turns.

    Parameters
    ----------
    check : SensorCheck
        Rounded.

    Returns
    -------
    list of tuple of str
        Turn by the gyroscope, its error and the standard uncertainty of that.
    """
    columns = [each.turns for each in check.sensors if each.turns]
    angles = [f"{each.reference_deg:g}" for each in check.positions]
    return [
        (f"{before} to {after}", *(_turn(column[index]) for column in columns))
        for index, (before, after) in enumerate(pairwise(angles))
    ]


def _turn(each: TurnCheck) -> str:
    if each.turn_deg is None or each.error_deg is None:
        return "data missing"
    return f"{two_decimals(each.turn_deg)} (error {two_decimals(each.error_deg)}, u {two_decimals(each.u_deg)})"


def rest_headings() -> tuple[str, ...]:
    """Give the headings of the table of what the sensors say at rest.

    Returns
    -------
    tuple of str
        One a column.
    """
    return (
        "sensor",
        "gravity, m/s2",
        "bias in one direction at least, m/s2",
        "accelerometer noise, m/s2",
        "gyroscope at rest, deg/s",
        "largest change of that, deg/s",
        "gyroscope noise, deg/s",
    )


def rest_rows(check: SensorCheck) -> list[tuple[str, ...]]:
    """Give the cells of the table of what the sensors say at rest.

    Parameters
    ----------
    check : SensorCheck
        Rounded.

    Returns
    -------
    list of tuple of str
        One row a sensor.
    """
    return [
        (
            each.tracked_point,
            f"{each.gravity_m_s2:.2f} ({each.gravity_low_m_s2:.2f} to {each.gravity_high_m_s2:.2f})",
            two_decimals(each.accelerometer_bias_at_least_m_s2),
            f"{each.accelerometer_noise_m_s2:.3f}",
            ", ".join(two_decimals(bias) for bias in each.gyroscope_bias_deg_s),
            two_decimals(each.gyroscope_bias_change_deg_s),
            f"{each.gyroscope_noise_deg_s:.3f}",
        )
        for each in check.sensors
    ]
