"""Sets and repetitions that one sensor of a recording shows, without a plan and without a joint angle."""

from imu_rom.errors import RecordingError
from imu_rom.motion.segment_repetitions import SegmentRepetitions, count_segment_repetitions
from imu_rom.recording.model import Recording
from imu_rom.settings import Settings

__all__ = ["count_repetitions"]


def count_repetitions(
    recording: Recording, tracked_point: str | None = None, settings: Settings | None = None
) -> tuple[str, SegmentRepetitions]:
    """Count the repetitions that one sensor shows.

    Parameters
    ----------
    recording : Recording
        As read.
    tracked_point : str, optional
        The sensor; None takes the only one.
    settings : Settings, optional
        None takes the defaults.

    Returns
    -------
    tracked_point : str
        The sensor that was taken.
    found : SegmentRepetitions
        Sets in time order; what is in them and how sure it is.

    Raises
    ------
    RecordingError
        There is no such sensor, there are several and none is named, or it never measured.
    """
    if tracked_point is None:
        if len(recording.sensors) > 1:
            raise RecordingError(
                f"there are several sensors: {', '.join(recording.sensors)}",
                where=recording.label,
                do="say by --sensor which one is to be counted",
            )
        tracked_point = next(iter(recording.sensors))
    sensor = recording.sensor(tracked_point)
    if sensor.missing.all():
        raise RecordingError(
            f"the sensor on {tracked_point!r} has no measurement", where=recording.label, do="take another sensor"
        )
    found = count_segment_repetitions(
        sensor.accelerometer_m_s2, sensor.gyroscope_rad_s, sensor.missing, recording.rate_hz, settings
    )
    return tracked_point, found
