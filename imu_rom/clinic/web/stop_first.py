"""What comes before anything else on a patient's pages: signs that need help, and pain at which to stop.

Where one of them was noted, no page tells the patient to go on: that is for the clinic to say.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from imu_rom.clinic.diary import DiaryLine
from imu_rom.clinic.kept_recordings import KeptRecording
from imu_rom.clinic.local_time import local_day
from imu_rom.wording.language import Speech
from imu_rom.wording.patient_diary import Urgent, diary_words, urgent_words

__all__ = ["StopFirst", "pain_is_high", "stop_first", "told_to_stop"]

# what was noted stands on top of pages on its day and the day after, and so does pain that is told later
_DAYS_AFTER = 1
# the pain-monitoring model, as in `imu_rom.wording.cautions`
_STOP_ABOVE = 5.0
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


def stop_first(lines: Sequence[DiaryLine], today: date, time_zone: str, to: Speech) -> StopFirst:
    """Say what comes first after what was noted of today and yesterday, or told today and yesterday of any day.

    Parameters
    ----------
    lines : sequence of DiaryLine
        The diary.
    today : date
        The clinic's day.
    time_zone : str
        The clinic's.
    to : Speech
        The patient's language.

    Returns
    -------
    StopFirst
        May be of nothing.
    """
    words = diary_words(to)
    since = today - timedelta(days=_DAYS_AFTER)
    recent = [each for each in lines if each.day >= since]
    # signs are asked of now, pain also of days before
    told = [each for each in lines if each.day >= since or local_day(each.created_at_ms, time_zone) >= since]
    return StopFirst(
        urgent=urgent_words(tuple(sign for each in recent for sign in each.signs), to),
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
    return any(float(line.fields[name]) > _STOP_ABOVE for name in _PAINS if name in line.fields)


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
