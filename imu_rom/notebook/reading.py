"""A recording from its file, with the usual settings where none are given."""

from os import PathLike
from pathlib import Path

from imu_rom.recording.delimited import DelimitedOptions
from imu_rom.recording.model import Recording
from imu_rom.recording.reading import read_recording as read_with_settings
from imu_rom.settings import Settings

__all__ = ["read_recording"]


def read_recording(
    path: str | PathLike[str],
    *,
    options: DelimitedOptions | None = None,
    recorded_at: str | None = None,
    settings: Settings | None = None,
) -> Recording:
    """Read a recording and check it.

    Parameters
    ----------
    path : path
        A ``_motion.tsv`` of a BIDS Motion triplet, a folder that holds exactly one, or a delimited file.
    options : DelimitedOptions, optional
        What delimited files don't say.
    recorded_at : str, optional
        RFC 3339 time with offset of the first sample; goes before what the data say.
    settings : Settings, optional
        All tunables; None takes the defaults.

    Returns
    -------
    Recording
        In SI units, on an even time base, with the findings of reading and checking.

    Raises
    ------
    RecordingError
        It can't be read, or nothing can be measured from it.
    CannotAnswerError
        The clocks are said to be separate, and nothing tells how they lie.

    Examples
    --------
    >>> from imu_rom import read_recording
    >>> recording = read_recording("sample_recordings/dataset/sub-P0001")
    >>> recording.rate_hz, sorted(recording.sensors)
    (50.0, ['foot', 'shank'])
    >>> recording.sensor("foot").gyroscope_rad_s.shape == (recording.sample_count, 3)
    True
    """
    settings = settings or Settings()
    return read_with_settings(Path(path), settings.reading, options, recorded_at=recorded_at)
