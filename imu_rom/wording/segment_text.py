"""What one sensor shows, in sentences and tables: sets, repetitions, tempo and how sure the counts are."""

import numpy as np

from imu_rom.motion.segment_repetitions import SegmentRepetitions, SegmentSet
from imu_rom.wording.figures import one_decimal

__all__ = [
    "SEGMENT_REPETITION_HEADINGS",
    "SEGMENT_SET_HEADINGS",
    "segment_repetition_rows",
    "segment_sentences",
    "segment_set_rows",
]

SEGMENT_SET_HEADINGS = (
    "set",
    "start s",
    "stop s",
    "repetitions",
    "turn deg",
    "duration s",
    "out s",
    "hold s",
    "back s",
    "alike",
    "count is",
)
SEGMENT_REPETITION_HEADINGS = (
    "set",
    "repetition",
    "start s",
    "duration s",
    "out s",
    "hold s",
    "back s",
    "turn deg",
    "",
)


def _amount(number: int, thing: str) -> str:
    return f"{number} {thing}{'' if number == 1 else 's'}"


def segment_sentences(found: SegmentRepetitions, tracked_point: str) -> list[str]:
    """Say what was counted, what the angle is, and why a count is undecided.

    Parameters
    ----------
    found : SegmentRepetitions
        What the sensor shows.
    tracked_point : str
        The sensor.

    Returns
    -------
    list of str
        Plain sentences.
    """
    if found.sets:
        said = [f"The {tracked_point} sensor shows {_amount(len(found.sets), 'set')}."]
        said.append("Turn is the segment's own, from where its set starts: no joint angle, and nothing about depth.")
    else:
        said = [f"The {tracked_point} sensor shows no movement that is repeated three times or more."]
    for number, each in enumerate(found.sets, start=1):
        said.extend(f"Set {number}: {reason}." for reason in _doubts(each))
    if found.walking:
        lasts = sum(stop - start for start, stop in found.walking)
        said.append(f"Walking, not counted: {lasts:.0f} s in all.")
    return said


def _doubts(found: SegmentSet) -> list[str]:
    doubts = []
    if found.least < found.most:
        if found.cut_start or found.cut_stop:
            why = "the recording begins or ends within it"
        else:
            why = "its first or last movement may be the way from or to another place"
        doubts.append(f"{found.least} to {found.most} repetitions, since {why}")
    if not found.alike:
        doubts.append("its repetitions are not alike enough for a sure count")
    return doubts


def _usual(values: list[float]) -> str:
    return one_decimal(float(np.median(values))) if values else "-"


def segment_set_rows(found: SegmentRepetitions) -> list[list[str]]:
    """Make one row a set.

    Parameters
    ----------
    found : SegmentRepetitions
        What the sensor shows.

    Returns
    -------
    list of list of str
        Cells under `SEGMENT_SET_HEADINGS`; tempo is the median repetition's.
    """
    rows = []
    for number, each in enumerate(found.sets, start=1):
        repetitions = list(enumerate(each.done.repetitions))
        whole = [one for position, one in repetitions if each.out_seen(position) and each.back_seen(position)]
        rows.append(
            [
                str(number),
                one_decimal(each.done.start_s),
                one_decimal(each.done.stop_s),
                str(each.count) if each.least == each.most else f"{each.least} to {each.most}",
                f"{each.excursion_deg:.0f}",
                _usual([one.stop_s - one.start_s for one in whole]),
                _usual([one.eccentric_s for position, one in repetitions if each.out_seen(position)]),
                _usual([one.hold_s for one in whole]),
                _usual([one.concentric_s for _, one in repetitions if one.concentric_s is not None]),
                f"{each.regularity:.2f}",
                "sure" if each.decided else "undecided",
            ]
        )
    return rows


def segment_repetition_rows(found: SegmentRepetitions) -> list[list[str]]:
    """Make one row a repetition.

    Parameters
    ----------
    found : SegmentRepetitions
        What the sensor shows.

    Returns
    -------
    list of list of str
        Cells under `SEGMENT_REPETITION_HEADINGS`.
    """
    rows = []
    for number, each in enumerate(found.sets, start=1):
        for position, one in enumerate(each.done.repetitions):
            out, back = each.out_seen(position), each.back_seen(position)
            rows.append(
                [
                    str(number),
                    str(position + 1),
                    one_decimal(one.start_s),
                    one_decimal(one.stop_s - one.start_s) if out and back else "-",
                    one_decimal(one.eccentric_s) if out else "-",
                    one_decimal(one.hold_s) if out and back else "-",
                    "-" if one.concentric_s is None else one_decimal(one.concentric_s),
                    f"{one.end_range_deg - one.start_deg:.0f}",
                    "" if one.complete else "partial",
                ]
            )
    return rows
