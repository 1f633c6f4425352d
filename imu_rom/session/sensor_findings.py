"""What a check of the sensors noticed, in sentences that say what to do."""

from collections.abc import Iterator, Sequence

from imu_rom.findings import Finding
from imu_rom.session.sensor_check_result import CheckedPair, CheckedSensor

__all__ = ["sensor_findings"]

LARGEST_TWIST_DEG = 3.0
LARGEST_BIAS_DEG_S = 2.0
"""The attitude filter holds its estimate of the bias within this (VQF's parameter biasClip)."""
LARGEST_BIAS_CHANGE_DEG_S = 0.5
GRAVITY_M_S2 = 9.81
LARGEST_GRAVITY_SHARE = 0.01
"""The place on Earth makes 0.3 %: normal gravity is 9.780 m/s2 at the equator and 9.832 at the poles (GRS 80; Moritz, J
Geodesy 74:128-133, 2000, from memory)."""
LARGEST_SCALE_ERROR = 0.02
SAME_SCALE = 0.005
LARGEST_MOVE_DEG = 1.0


def sensor_findings(sensors: Sequence[CheckedSensor], pair: CheckedPair | None) -> list[Finding]:
    """Say what is out of the ordinary with the sensors or with how they were checked.

    Parameters
    ----------
    sensors : sequence of CheckedSensor
        Each sensor.
    pair : CheckedPair or None
        Both together.

    Returns
    -------
    list of Finding
        The edge first, then sensor by sensor.
    """
    found = list(_edge_findings(sensors, pair))
    found += _rate_findings(sensors)
    for each in sensors:
        found += _inclination_findings(each)
        found += _gyroscope_findings(each)
    return found


def _edge_findings(sensors: Sequence[CheckedSensor], pair: CheckedPair | None) -> Iterator[Finding]:
    twists = [max(abs(position.out_of_plane_deg) for position in each.positions) for each in sensors if each.positions]
    if twists and max(twists) > LARGEST_TWIST_DEG:
        yield Finding(
            "twisted-edge",
            "caution",
            f"The edge was twisted about its own length or leaned sideways, by up to {max(twists):.1f} deg; what that "
            "can do to the tilt is in the intervals, but set it up again with more care if they matter.",
        )
    if pair is not None and pair.way == "one tilted":
        for each in sensors:
            if not each.tilted and each.moved_deg > LARGEST_MOVE_DEG:
                yield Finding(
                    "resting-sensor-moved",
                    "caution",
                    f"The sensor on {each.tracked_point}, which was to stay where it was, tilted by "
                    f"{each.moved_deg:.1f} deg; hold that leg of the square down and record again.",
                    sensor=each.tracked_point,
                )


def _rate_findings(sensors: Sequence[CheckedSensor]) -> Iterator[Finding]:
    """Tell a wrong sampling rate, which stretches every turn alike, from gyroscopes that are each off by their own."""
    scales = [each.gyroscope_scale_error for each in sensors if each.gyroscope_scale_error is not None]
    uncertain = [each.u_gyroscope_scale_error for each in sensors if each.u_gyroscope_scale_error is not None]
    if len(scales) < 2 or min(map(abs, scales)) <= max(LARGEST_SCALE_ERROR, 2.0 * max(uncertain)):
        return
    if max(scales) - min(scales) < SAME_SCALE:
        mean = 100.0 * sum(scales) / len(scales)
        yield Finding(
            "rate-off",
            "caution",
            f"All gyroscopes turn too far by the same {mean:.1f} %, so the sampling rate or the time stamps may be "
            "wrong rather than the gyroscopes; so may the angles that were set.",
        )


def _inclination_findings(sensor: CheckedSensor) -> Iterator[Finding]:
    point = sensor.tracked_point
    off = [each for each in sensor.positions[1:] if not each.low_deg <= 0.0 <= each.high_deg]
    if off:
        worst = max(off, key=lambda each: abs(each.error_deg))
        yield Finding(
            "inclination-off",
            "caution",
            f"The sensor on {point} is off by {worst.error_deg:.1f} deg ({worst.low_deg:.1f} to {worst.high_deg:.1f}) "
            f"where it was tilted by {worst.tilt_deg - worst.error_deg:.0f} deg, more than the reference explains.",
            sensor=point,
        )
    share = sensor.gravity_m_s2 / GRAVITY_M_S2 - 1.0
    if abs(share) > LARGEST_GRAVITY_SHARE:
        yield Finding(
            "gravity-off",
            "caution",
            f"The accelerometer of {point} measures gravity as {sensor.gravity_m_s2:.2f} m/s2, "
            f"{100 * abs(share):.1f} % {'more' if share > 0 else 'less'} than 9.81; the place on Earth makes 0.3 % at "
            "most, so calibrate it as its maker says.",
            sensor=point,
        )


def _gyroscope_findings(sensor: CheckedSensor) -> Iterator[Finding]:
    point, bias = sensor.tracked_point, sensor.gyroscope_bias_deg_s
    if max(abs(each) for each in bias) > LARGEST_BIAS_DEG_S:
        yield Finding(
            "gyroscope-bias",
            "caution",
            f"The gyroscope of {point} says {', '.join(f'{each:.1f}' for each in bias)} deg/s at rest; the attitude "
            f"filter allows for {LARGEST_BIAS_DEG_S:g} deg/s, so calibrate it as its maker says.",
            sensor=point,
        )
    if sensor.gyroscope_bias_change_deg_s > LARGEST_BIAS_CHANGE_DEG_S:
        yield Finding(
            "gyroscope-drift",
            "caution",
            f"The rest rate of the gyroscope of {point} changed by {sensor.gyroscope_bias_change_deg_s:.1f} deg/s "
            "between two positions; let the sensors run for ten minutes before use, so that they are warm.",
            sensor=point,
        )
    scale, u_scale = sensor.gyroscope_scale_error, sensor.u_gyroscope_scale_error
    if scale is not None and u_scale is not None and abs(scale) > max(LARGEST_SCALE_ERROR, 2.0 * u_scale):
        yield Finding(
            "gyroscope-scale",
            "caution",
            f"The gyroscope of {point} turns {100 * abs(scale):.1f} % too {'far' if scale > 0 else 'little'} (standard "
            f"uncertainty {100 * u_scale:.1f} %): a quick movement of 30 deg is off by {30 * abs(scale):.1f} deg until "
            "gravity puts it right; calibrate it as its maker says.",
            sensor=point,
        )
