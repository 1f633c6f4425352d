"""The clinic's week on one page: what came in, what was looked at and decided, what still wants a look."""

from dataclasses import dataclass
from datetime import date, timedelta

from starlette.requests import Request
from starlette.responses import Response

from imu_rom.clinic.digest import DigestLine, week_digest, week_of
from imu_rom.clinic.web.clinician_frame import today_of
from imu_rom.clinic.web.permissions import Permitted
from imu_rom.clinic.web.rendering import page_response
from imu_rom.clinic.web.routes import page
from imu_rom.wording.clinic_attention_text import LEVEL_HEADINGS, reason_sentence
from imu_rom.wording.clinic_week_text import done_words, sessions_words, week_sentences

__all__ = ["WeekContent", "WeekRow"]


@dataclass(frozen=True)
class WeekRow:
    """One patient's week.

    Parameters
    ----------
    patient_id, label : str
        Whose.
    sessions, diary, done, stands : str
        What came in, days of the diary, what was done, how soon a look is wanted now.
    reasons : tuple of str
        Why.
    """

    patient_id: str
    label: str
    sessions: str
    diary: str
    done: str
    stands: str
    reasons: tuple[str, ...]


@dataclass(frozen=True)
class WeekContent:
    """What the page shows.

    Parameters
    ----------
    first, last : date
        Monday and Sunday.
    summary : tuple of str
        The week in sentences.
    rows : tuple of WeekRow
        Patients of whom something is to be said, those that want a look first first.
    quiet : tuple of tuple of str
        (id, label) of all others.
    before, after : str
        Days of the weeks around; after is empty for the current one.
    """

    first: date
    last: date
    summary: tuple[str, ...]
    rows: tuple[WeekRow, ...]
    quiet: tuple[tuple[str, str], ...]
    before: str
    after: str


@page("/week", who="clinician")
def week(request: Request, permitted: Permitted) -> Response:
    """Show a week."""
    today = today_of(permitted)
    try:
        asked = date.fromisoformat(request.query_params.get("of", ""))
    except ValueError:
        asked = today
    monday = week_of(min(max(asked, date(2000, 1, 3)), today))
    with permitted.service.database.reading() as connection:
        digest = week_digest(connection, permitted.actor.clinic_id, permitted.now_ms, monday)
    told = [each for each in digest.lines if not each.is_quiet or each.now.reasons]
    content = WeekContent(
        first=digest.first,
        last=digest.last,
        summary=week_sentences(digest.lines),
        rows=tuple(map(_row, told)),
        quiet=tuple((each.now.patient_id, each.now.label) for each in digest.lines if each not in told),
        before=str(monday - timedelta(days=7)),
        after="" if digest.last >= today else str(monday + timedelta(days=7)),
    )
    return page_response(request, permitted, "week.html", content)


def _row(line: DigestLine) -> WeekRow:
    return WeekRow(
        patient_id=line.now.patient_id,
        label=line.now.label,
        sessions=sessions_words(line.usable, line.unusable, line.waiting),
        diary=f"{line.diary_days} of 7",
        done=done_words(line.reviews, line.decisions, line.plans, line.messages),
        stands=LEVEL_HEADINGS[line.now.level],
        reasons=tuple(map(reason_sentence, line.now.reasons)),
    )
