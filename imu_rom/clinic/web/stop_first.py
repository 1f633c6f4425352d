"""What comes before anything else on a patient's pages: signs that need help, and pain at which to stop.

Where one of them was noted, no page tells the patient to go on: that is for the clinic to say.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta

from sqlalchemy import Connection

from imu_rom.clinic.diary import DiaryLine
from imu_rom.clinic.kept_recordings import KeptRecording
from imu_rom.clinic.local_time import local_day
from imu_rom.clinic.reviews import seen_reasons
from imu_rom.clinic.web.permissions import Permitted
from imu_rom.settings import PainSettings
from imu_rom.wording.cautions import RED_FLAGS
from imu_rom.wording.patient_diary import Urgent, diary_words, urgent_words

__all__ = ["StopFirst", "pain_is_high", "stop_first", "told_to_stop"]

# what was noted stands on top of pages on its day and the day after, and so does pain that is told later
_DAYS_AFTER = 1
_PAIN = PainSettings()
# no exercises until somebody was asked: that is not over by waiting
_TO_BE_ASKED = {each.word for each in RED_FLAGS if each.urgency == "before the next session"}
_PAINS = ("pain_before", "pain_during", "pain_after", "pain_next_morning")


@dataclass(frozen=True)
class StopFirst:
    """What stands on top of a page.

    Parameters
    ----------
    urgent : Urgent or None
        What to do after signs that need help, by the most urgent of them.
    high_pain : str
        What to do after pain at which to stop; empty where there was none.
    call, said : str
        Words around the clinic's number and the signs.
    """

    urgent: Urgent | None
    high_pain: str
    call: str
    said: str

    @property
    def there(self) -> bool:
        """Whether there is anything of it."""
        return self.urgent is not None or bool(self.high_pain)


def stop_first(connection: Connection, permitted: Permitted, lines: Sequence[DiaryLine]) -> StopFirst:
    """Say what comes first after what was noted of today and yesterday, or told today and yesterday of any day.

    Parameters
    ----------
    connection : Connection
        Any.
    permitted : Permitted
        Whose page it is, and when.
    lines : sequence of DiaryLine
        The diary.

    Returns
    -------
    StopFirst
        May be of nothing. A sign that must be asked about first stays until a clinician has looked at it, for as long
        as red flags are recent.
    """
    words, since = diary_words(permitted.to), permitted.today - timedelta(days=_DAYS_AFTER)
    # signs are asked of now, pain also of days before
    told = [each for each in lines if each.day >= since or local_day(each.created_at_ms, permitted.time_zone) >= since]
    seen = seen_reasons(connection, [permitted.person.patient_id]).get(permitted.person.patient_id, frozenset())
    still = permitted.today - timedelta(days=_PAIN.red_flag_recent_days)
    signs = tuple(
        sign
        for each in lines
        for sign in each.signs
        if each.day >= since
        or (sign in _TO_BE_ASKED and each.day >= still and f"red flag:{each.day}:{sign}" not in seen)
    )
    return StopFirst(
        urgent=urgent_words(signs, permitted.to),
        high_pain=words["above_five"] if any(map(pain_is_high, told)) else "",
        call=words["call"],
        said=words["told"],
    )


def pain_is_high(line: DiaryLine) -> bool:
    """Tell whether pain went above 5 of 10.

    Parameters
    ----------
    line : DiaryLine
        Of the diary.

    Returns
    -------
    bool
        By any of its answers.
    """
    return any(float(line.fields[name]) > _PAIN.stop_above for name in _PAINS if name in line.fields)


def told_to_stop(lines: Sequence[DiaryLine], recording: KeptRecording) -> bool:
    """Tell whether a recording or its day has a sign that needs help, or pain at which to stop.

    Parameters
    ----------
    lines : sequence of DiaryLine
        The diary.
    recording : KeptRecording
        Which; what was told when it was sent may be a line of a later day.

    Returns
    -------
    bool
        However long ago it was.
    """
    of_it = [each for each in lines if each.day == recording.day or each.recording_id == recording.recording_id]
    return any(each.signs or pain_is_high(each) for each in of_it)
