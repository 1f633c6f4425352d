"""What one sensor shows, for other programs: repetitions as comma-separated text, everything as JSON.

Times are seconds from the recording's start. Angles are the segment's own turn from where its set starts, no joint
angle. A cell that is empty (null in JSON) is not known: a way that lies outside the recording has no time.
"""

import csv
import io
import json
from typing import Any

from imu_rom.motion.repetitions import Repetition
from imu_rom.motion.segment_repetitions import SegmentRepetitions, SegmentSet
from imu_rom.recording.model import Recording

__all__ = ["DOCUMENT_START", "SEGMENT_COLUMNS", "segment_document", "segment_table"]

SECONDS_DECIMALS, DEGREES_DECIMALS, SHARE_DECIMALS = 3, 1, 3
SEGMENT_COLUMNS = (
    "set",
    "repetition",
    "start_s",
    "end_range_s",
    "stop_s",
    "duration_s",
    "out_s",
    "hold_s",
    "back_s",
    "turn_deg",
    "complete",
    "set_count",
    "set_least",
    "set_most",
    "set_decided",
)
DOCUMENT_START = b'{\n  "imu_rom_repetitions": 1,'


def _repetition(repetition: Repetition, *, out_seen: bool, back_seen: bool) -> dict[str, Any]:
    return {
        "start_s": round(float(repetition.start_s), SECONDS_DECIMALS),
        "end_range_s": round(float(repetition.end_range_s), SECONDS_DECIMALS),
        "stop_s": round(float(repetition.stop_s), SECONDS_DECIMALS),
        "duration_s": round(float(repetition.stop_s - repetition.start_s), SECONDS_DECIMALS)
        if out_seen and back_seen
        else None,
        "out_s": round(float(repetition.eccentric_s), SECONDS_DECIMALS) if out_seen else None,
        "hold_s": round(float(repetition.hold_s), SECONDS_DECIMALS) if out_seen and back_seen else None,
        "back_s": None if repetition.concentric_s is None else round(float(repetition.concentric_s), SECONDS_DECIMALS),
        "turn_deg": round(float(repetition.end_range_deg - repetition.start_deg), DEGREES_DECIMALS),
        "complete": bool(repetition.complete),
    }


def _set(found: SegmentSet) -> dict[str, Any]:
    return {
        "start_s": round(float(found.done.start_s), SECONDS_DECIMALS),
        "stop_s": round(float(found.done.stop_s), SECONDS_DECIMALS),
        "count": found.count,
        "least": found.least,
        "most": found.most,
        "decided": found.decided,
        "regularity": round(found.regularity, SHARE_DECIMALS),
        "turn_deg": round(found.excursion_deg, DEGREES_DECIMALS),
        "cut_start": found.cut_start,
        "cut_stop": found.cut_stop,
        "repetitions": [
            _repetition(each, out_seen=found.out_seen(number), back_seen=found.back_seen(number))
            for number, each in enumerate(found.done.repetitions)
        ],
    }


def segment_document(recording: Recording, tracked_point: str, found: SegmentRepetitions) -> bytes:
    """Write everything that one sensor shows as JSON.

    Parameters
    ----------
    recording : Recording
        What was read.
    tracked_point : str
        The sensor.
    found : SegmentRepetitions
        What it shows.

    Returns
    -------
    bytes
        UTF-8 text that begins with `DOCUMENT_START`.
    """
    document = {
        "imu_rom_repetitions": 1,
        "recording": recording.label,
        "files": [{"name": each.name, "sha256": each.sha256} for each in recording.files],
        "rate_hz": recording.rate_hz,
        "sensor": tracked_point,
        "angle": "the segment's own turn from where the set starts; no joint angle",
        "sets": [_set(each) for each in found.sets],
        "walking_s": [[round(each, SECONDS_DECIMALS) for each in stretch] for stretch in found.walking],
    }
    return (json.dumps(document, indent=2, ensure_ascii=False) + "\n").encode()


def segment_table(found: SegmentRepetitions) -> bytes:
    """Write the repetitions as comma-separated text, one a row.

    Parameters
    ----------
    found : SegmentRepetitions
        What a sensor shows.

    Returns
    -------
    bytes
        UTF-8 text; the first line names `SEGMENT_COLUMNS`.
    """
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(SEGMENT_COLUMNS)
    words = {True: "yes", False: "no", None: ""}
    for number, each in enumerate(found.sets, start=1):
        row = _set(each)
        of_set = (row["count"], row["least"], row["most"], words[row["decided"]])
        for position, repetition in enumerate(row["repetitions"], start=1):
            values = {**repetition, "complete": words[repetition["complete"]]}
            cells = ["" if value is None else value for value in values.values()]
            writer.writerow([number, position, *cells, *of_set])
    return text.getvalue().encode()
