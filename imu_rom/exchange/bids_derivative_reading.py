"""Read back the joint angle of a BIDS derivative: the same numbers as were written.

The reader of recordings (`imu_rom.recording.bids`) needs two sensors, which a derivative has not.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from imu_rom.errors import RecordingError
from imu_rom.exchange.bids_derivative import EVENT_COLUMNS
from imu_rom.exchange.spreadsheet_cells import value_of
from imu_rom.recording.bids_sidecars import read_channels, read_json, read_numbered_rows, sampling_frequency_hz
from imu_rom.recording.table import TableLayout, check_is_text, read_table

__all__ = ["BidsAngle", "read_bids_angle"]

SUFFIX = "_motion.tsv"
NOTHING = "n/a"
LARGEST_MB = 2048.0
KINDS = {"onset": "number", "duration": "number", "trial_type": "text"} | {
    each.name: each.kind for each in EVENT_COLUMNS
}


@dataclass(frozen=True)
class BidsAngle:
    """What one ``_motion.tsv`` of a derivative holds.

    Parameters
    ----------
    rate_hz : float
        Sampling rate.
    time_s : ndarray of shape (n,)
        From the recording's start.
    angles_deg : mapping of str to ndarray
        Channels of type JNTANG, by name; NaN where another exercise was under way.
    uncertainties_deg : mapping of str to ndarray
        Channels of type MISC, by name.
    events : tuple of mapping of str to value
        Rows of ``_events.tsv``, with the columns of `EVENT_COLUMNS`; None for ``n/a``.
    """

    rate_hz: float
    time_s: NDArray[np.float64]
    angles_deg: Mapping[str, NDArray[np.float64]]
    uncertainties_deg: Mapping[str, NDArray[np.float64]]
    events: tuple[Mapping[str, object], ...]


def read_bids_angle(motion: Path) -> BidsAngle:
    """Read a ``_motion.tsv`` that `imu_rom.exchange.bids_derivative` wrote, with what lies beside it.

    Parameters
    ----------
    motion : Path
        The file.

    Returns
    -------
    BidsAngle
        Its numbers as they stand there.

    Raises
    ------
    RecordingError
        A file is missing or damaged, there is no time or no angle, or a unit is another one.
    """
    stem = motion.name.removesuffix(SUFFIX)
    check_is_text(motion, LARGEST_MB)
    channels_file, sidecar_file, events_file = (
        motion.with_name(f"{stem}{end}") for end in ("_channels.tsv", "_motion.json", "_events.tsv")
    )
    channels = read_channels(channels_file)
    layout = TableLayout("\t", tuple(each["name"] for each in channels), missing=(NOTHING,))
    columns = read_table(motion, layout).numbers
    found: dict[str, dict[str, NDArray[np.float64]]] = {"LATENCY": {}, "JNTANG": {}, "MISC": {}}
    for each in channels:
        if each["type"] in found:
            unit = "s" if each["type"] == "LATENCY" else "deg"
            if each["units"] != unit:
                where = f"{channels_file.name}:{each.line}"
                raise RecordingError(f"units must be {unit}, got {each['units']!r}", where=where)
            found[each["type"]][each["name"]] = columns[each.column]
    if len(found["LATENCY"]) != 1 or not found["JNTANG"]:
        raise RecordingError("must have one LATENCY channel and at least one JNTANG channel", where=channels_file.name)
    (time_s,) = found["LATENCY"].values()
    events = tuple(
        {name: _value(cell, name, f"{events_file.name}:{line}") for name, cell in row.items() if name in KINDS}
        for line, row in read_numbered_rows(events_file)
    )
    rate_hz = sampling_frequency_hz(read_json(sidecar_file, required=True), sidecar_file)
    return BidsAngle(rate_hz, time_s, found["JNTANG"], found["MISC"], events)


def _value(cell: str, name: str, where: str) -> object:
    try:
        return None if cell == NOTHING else value_of(cell, KINDS[name])
    except ValueError as must:
        raise RecordingError(f"{name} must be {must}, got {cell!r:.40}", where=where) from None
