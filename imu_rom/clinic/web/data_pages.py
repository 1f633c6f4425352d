"""What is kept of a patient, by right: language, consent, a copy of everything, the wish that it be deleted."""

import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from typing import IO

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response, StreamingResponse

from imu_rom.clinic.accounts import sign_in_name_of
from imu_rom.clinic.consents import standing_consent
from imu_rom.clinic.everything_held import write_everything
from imu_rom.clinic.local_time import local_day
from imu_rom.clinic.patients import ask_deletion, change_patient, take_back_deletion
from imu_rom.clinic.rate_limits import RateLimit, count
from imu_rom.clinic.sign_ins import RATE_KEY
from imu_rom.clinic.web.consent_pages import QuestionContent
from imu_rom.clinic.web.permissions import Permitted
from imu_rom.clinic.web.rendering import page_response
from imu_rom.clinic.web.routes import page
from imu_rom.clinic.web.trouble import trouble_page
from imu_rom.wording.language import languages, speech
from imu_rom.wording.patient_history import agreed_words, asked_words, data_words

__all__ = ["DataContent"]

_BLOCK_BYTES = 1 << 18
# each takes as much room as all that is kept, while it is sent (common practice, no source)
_COPIES = RateLimit("copy", 6, 3_600_000)


@dataclass(frozen=True)
class DataContent:
    """What the page shows.

    Parameters
    ----------
    words : dict of str to str
        Labels and sentences.
    sign_in_name : str
        The patient's.
    languages : tuple of tuple of str
        (code, name).
    consent : str
        Whether and when the patient agreed.
    consents : bool
        Whether a consent stands.
    deletion : str
        When deletion was asked for; empty where it wasn't.
    """

    words: dict[str, str]
    sign_in_name: str
    languages: tuple[tuple[str, str], ...]
    consent: str
    consents: bool
    deletion: str


@page("/my-data", who="patient without consent")
def my_data(request: Request, permitted: Permitted) -> Response:
    """Show what a patient may do about what is kept."""
    to, patient = permitted.to, permitted.person
    words = data_words(to)
    with permitted.service.database.reading() as connection:
        standing = standing_consent(connection, patient.patient_id)
        name = sign_in_name_of(connection, permitted.actor.user_id) or ""
    consent = words["not_agreed"]
    if "taken-back" in request.query_params:
        consent = words["taken_back"]
    if standing is not None:
        consent = agreed_words(local_day(standing.given_at_ms, permitted.time_zone), to)
    asked_at_ms = patient.deletion_asked_at_ms
    content = DataContent(
        words=words,
        sign_in_name=name,
        languages=tuple((each, speech(each).name) for each in languages()),
        consent=consent,
        consents=standing is not None,
        deletion="" if asked_at_ms is None else asked_words(local_day(asked_at_ms, permitted.time_zone), to),
    )
    return page_response(request, permitted, "my_data.html", content)


@page("/my-data/language", who="patient without consent", method="POST")
def choose_language(request: Request, permitted: Permitted) -> Response:
    """Keep in which language the patient reads."""
    del request
    language = permitted.text("language")
    if language in languages():
        with permitted.service.database.writing() as connection:
            change_patient(
                connection,
                permitted.now_ms,
                permitted.person,
                actor_id=permitted.actor.user_id,
                language=language,
            )
    return RedirectResponse("/my-data", status_code=303)


@page("/my-data/copy", who="patient without consent", method="POST")
def copy(request: Request, permitted: Permitted) -> Response:
    """Give all that is kept as one zip file."""
    service = permitted.service
    with service.database.writing() as connection:
        key = service.configuration.key(RATE_KEY)
        within = count(connection, permitted.now_ms, key, _COPIES, permitted.person.patient_id)
    if not within:
        return trouble_page(request, "busy", 429)
    # beside what is kept anyway, not where the machine keeps small temporary files in memory
    target = tempfile.TemporaryFile(dir=service.configuration.home)  # noqa: SIM115 - closed when it was sent
    try:
        write_everything(service, permitted.person, permitted.actor.user_id, target)
        size = target.tell()
        target.seek(0)
    except BaseException:
        target.close()
        raise
    headers = {
        "content-disposition": f'attachment; filename="my-data-{permitted.today.isoformat()}.zip"',
        "content-length": str(size),
    }
    return StreamingResponse(_blocks(target), media_type="application/zip", headers=headers)


@page("/my-data/delete", who="patient without consent")
def ask_delete(request: Request, permitted: Permitted) -> Response:
    """Ask whether really everything is to be deleted, and say what that means."""
    words = data_words(permitted.to)
    content = QuestionContent(
        words["delete_heading"],
        (words["delete_what"], words["delete_get"]),
        "/my-data/delete",
        words["delete_ask"],
        words["take_back_no"],
        "/my-data",
    )
    return page_response(request, permitted, "question.html", content)


@page("/my-data/delete", who="patient without consent", method="POST")
def delete(request: Request, permitted: Permitted) -> Response:
    """Keep the wish that everything be deleted; the clinic sees it."""
    del request
    with permitted.service.database.writing() as connection:
        ask_deletion(connection, permitted.now_ms, permitted.person, actor_id=permitted.actor.user_id)
    return RedirectResponse("/my-data", status_code=303)


@page("/my-data/keep", who="patient without consent", method="POST")
def keep(request: Request, permitted: Permitted) -> Response:
    """Take the wish back that everything be deleted."""
    del request
    with permitted.service.database.writing() as connection:
        take_back_deletion(connection, permitted.now_ms, permitted.person, actor_id=permitted.actor.user_id)
    return RedirectResponse("/my-data", status_code=303)


def _blocks(file: IO[bytes]) -> Iterator[bytes]:
    with file:
        while block := file.read(_BLOCK_BYTES):
            yield block
