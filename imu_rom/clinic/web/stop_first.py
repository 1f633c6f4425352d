"""What comes before anything else on a patient's pages: signs that need help, and pain at which to stop.

Where one of them was noted, no page tells the patient to go on: that is for the clinic to say.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from imu_rom.clinic.diary import DiaryLine
from imu_rom.wording.language import Speech
from imu_rom.wording.patient_diary import Urgent, diary_words, urgent_words

__all__ = ["StopFirst", "pain_is_high", "stop_first", "told_to_stop"]

# what was noted stands on top of pages on its day and the day after
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


def stop_first(lines: Sequence[DiaryLine], today: date, to: Speech) -> StopFirst:
    """Say what comes first after what was noted today and yesterday.

    Parameters
    ----------
    lines : sequence of DiaryLine
        The diary.
    today : date
        The clinic's day.
    to : Speech
        The patient's language.

    Returns
    -------
    StopFirst
        May be of nothing.
    """
    words = diary_words(to)
    recent = [each for each in lines if each.day >= today - timedelta(days=_DAYS_AFTER)]
    return StopFirst(
        urgent=urgent_words(tuple(sign for each in recent for sign in each.signs), to),
        high_pain=words["above_five"] if any(map(pain_is_high, recent)) else "",
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


def told_to_stop(lines: Sequence[DiaryLine], day: date) -> bool:
    """Tell whether a day has a sign that needs help, or pain at which to stop.

    Parameters
    ----------
    lines : sequence of DiaryLine
        The diary.
    day : date
        Which day.

    Returns
    -------
    bool
        However long ago it was.
    """
    return any(each.day == day and (each.signs or pain_is_high(each)) for each in lines)
