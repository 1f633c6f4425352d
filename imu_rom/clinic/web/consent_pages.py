"""Reading again what was agreed to, agreeing to a new version of it, and taking it back."""

from dataclasses import dataclass

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from imu_rom.clinic.consents import give_consent, standing_consent, withdraw_consent
from imu_rom.clinic.local_time import local_day
from imu_rom.clinic.web.invitation_pages import AgreeContent
from imu_rom.clinic.web.permissions import Permitted
from imu_rom.clinic.web.rendering import page_response
from imu_rom.clinic.web.routes import page
from imu_rom.wording.patient_consent import CONSENT_VERSION, ConsentText, consent_text
from imu_rom.wording.patient_entry import entry_words
from imu_rom.wording.patient_history import agreed_words, data_words

__all__ = ["AgreedContent", "QuestionContent"]


@dataclass(frozen=True)
class AgreedContent:
    """What the page shows of a consent that stands.

    Parameters
    ----------
    words : dict of str to str
        Labels and sentences.
    text : ConsentText
        What was agreed to.
    agreed : str
        When.
    """

    words: dict[str, str]
    text: ConsentText
    agreed: str


@dataclass(frozen=True)
class QuestionContent:
    """A question with two answers.

    Parameters
    ----------
    heading : str
        The question.
    sentences : tuple of str
        What it means.
    action : str
        Where yes goes.
    yes, no : str
        Words on the buttons.
    back_to : str
        Where no leads.
    """

    heading: str
    sentences: tuple[str, ...]
    action: str
    yes: str
    no: str
    back_to: str


@page("/consent", who="patient without consent")
def consent(request: Request, permitted: Permitted) -> Response:
    """Show what is, or was, agreed to."""
    text = consent_text(permitted.to)
    with permitted.service.database.reading() as connection:
        standing = standing_consent(connection, permitted.person.patient_id)
    if standing is None:
        content = AgreeContent(entry_words(permitted.to), text, "/consent", welcome=False)
        return page_response(request, permitted, "agree.html", content)
    day = local_day(standing.given_at_ms, permitted.time_zone)
    agreed = AgreedContent(data_words(permitted.to), text, agreed_words(day, permitted.to))
    return page_response(request, permitted, "agreed.html", agreed)


@page("/consent", who="patient without consent", method="POST")
def agree(request: Request, permitted: Permitted) -> Response:
    """Keep that the patient agrees."""
    del request
    if permitted.text("answer") == "no" or permitted.text("agreed") != CONSENT_VERSION:
        return RedirectResponse("/my-data", status_code=303)
    with permitted.service.database.writing() as connection:
        give_consent(connection, permitted.now_ms, permitted.person, permitted.actor.user_id)
    return RedirectResponse("/today", status_code=303)


@page("/consent/withdraw", who="patient without consent")
def ask_withdraw(request: Request, permitted: Permitted) -> Response:
    """Ask whether the consent is really taken back, and say what that means."""
    words = data_words(permitted.to)
    content = QuestionContent(
        words["take_back_heading"],
        (words["take_back_what"], words["take_back_work"], words["take_back_kept"], words["take_back_care"]),
        "/consent/withdraw",
        words["take_back_yes"],
        words["take_back_no"],
        "/my-data",
    )
    return page_response(request, permitted, "question.html", content)


@page("/consent/withdraw", who="patient without consent", method="POST")
def withdraw(request: Request, permitted: Permitted) -> Response:
    """Keep that the patient takes the consent back."""
    del request
    with permitted.service.database.writing() as connection:
        withdraw_consent(connection, permitted.now_ms, permitted.person, permitted.actor.user_id)
    return RedirectResponse("/my-data?taken-back=yes", status_code=303)
