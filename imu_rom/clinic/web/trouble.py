"""What is said where a page can't be shown."""

from dataclasses import dataclass

from starlette.requests import Request
from starlette.responses import HTMLResponse

from imu_rom.clinic.web.rendering import plain_response
from imu_rom.errors import BusyError, ImuRomError
from imu_rom.wording.language import ENGLISH, preferred_language, speech
from imu_rom.wording.patient_site import Trouble, trouble

__all__ = ["TroubleContent", "error_page", "trouble_page"]


@dataclass(frozen=True)
class TroubleContent:
    """What a page shows that says what went wrong.

    Parameters
    ----------
    trouble : Trouble
        What happened and what to do.
    """

    trouble: Trouble


def trouble_page(request: Request, kind: str, status: int, error: ImuRomError | None = None) -> HTMLResponse:
    """Say what went wrong.

    Parameters
    ----------
    request : Request
        What was asked for.
    kind : str
        What it is (`imu_rom.wording.patient_site.trouble`).
    status : int
        Of the answer.
    error : ImuRomError, optional
        What the visitor can mend, in words of its own.

    Returns
    -------
    HTMLResponse
        A page.
    """
    to = speech(preferred_language(request.headers.get("accept-language", ENGLISH)))
    said = trouble(to, kind)
    if error is not None:
        said = Trouble(said.heading, (str(error),))
    return plain_response(request, to, "trouble.html", TroubleContent(said), status)


def error_page(request: Request, error: ImuRomError) -> HTMLResponse:
    """Say what the visitor can mend.

    Parameters
    ----------
    request : Request
        What was asked for.
    error : ImuRomError
        What is wrong with it.

    Returns
    -------
    HTMLResponse
        A page; a busy database is to be asked again.
    """
    if isinstance(error, BusyError):
        answer = trouble_page(request, "busy", 503)
        answer.headers["retry-after"] = "10"
        return answer
    return trouble_page(request, "refused", 400, error)
