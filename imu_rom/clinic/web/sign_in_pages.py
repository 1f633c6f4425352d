"""Signing in and out, for patients and clinicians alike."""

from dataclasses import dataclass
from urllib.parse import quote, urlsplit

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from imu_rom.clinic.sign_ins import (
    Refusal,
    SignedIn,
    confirm_code,
    revoke_sessions,
    sign_in,
    sign_out,
    waiting_account,
)
from imu_rom.clinic.web.cookies import forget, keep, token_of
from imu_rom.clinic.web.permissions import Permitted
from imu_rom.clinic.web.rendering import page_response
from imu_rom.clinic.web.routes import page
from imu_rom.wording.language import languages, speech
from imu_rom.wording.patient_entry import entry_words

__all__ = ["signed_in_response"]


@dataclass(frozen=True)
class SignInContent:
    """What the page shows.

    Parameters
    ----------
    words : dict of str to str
        Labels and sentences.
    languages : tuple of tuple of str
        (code, name) of the other languages.
    name : str
        What was typed before.
    back_to : str
        Where to go then.
    problem : str
        What is to be mended; empty for nothing.
    told : str
        What just happened; empty for nothing.
    """

    words: dict[str, str]
    languages: tuple[tuple[str, str], ...]
    name: str
    back_to: str
    problem: str
    told: str


@dataclass(frozen=True)
class CodeContent:
    """What the page shows that asks for a code.

    Parameters
    ----------
    words : dict of str to str
        Labels and sentences.
    back_to : str
        Where to go then.
    problem : str
        What is to be mended; empty for nothing.
    """

    words: dict[str, str]
    back_to: str
    problem: str


@page("/sign-in", who="anyone")
def ask(request: Request, permitted: Permitted) -> Response:
    """Ask for name and passphrase."""
    if permitted.account is not None:
        return RedirectResponse("/", status_code=303)
    told = "signed_out" if "out" in request.query_params else ""
    return _sign_in_page(request, permitted, request.query_params.get("next", ""), told=told)


@page("/sign-in", who="anyone", method="POST")
def tell(request: Request, permitted: Permitted) -> Response:
    """Sign somebody in."""
    address = "unknown" if request.client is None else request.client.host
    answer = sign_in(permitted.service, permitted.text("name"), permitted.text("passphrase"), address)
    back_to = permitted.text("next")
    if isinstance(answer, Refusal):
        return _sign_in_page(request, permitted, back_to, problem=answer.value, name=permitted.text("name"))
    if answer.code_needed:
        response = RedirectResponse(f"/sign-in/code?next={quote(_local(back_to), safe='')}", status_code=303)
        keep(response, answer.token, secure=request.app.state.secure)
        return response
    return signed_in_response(request, answer, back_to)


@page("/sign-in/code", who="anyone")
def ask_code(request: Request, permitted: Permitted) -> Response:
    """Ask for the code of the second factor."""
    token = token_of(request)
    with permitted.service.database.reading() as connection:
        waiting = None if token is None else waiting_account(connection, token, permitted.now_ms)
    if waiting is None:
        return RedirectResponse("/sign-in", status_code=303)
    content = CodeContent(entry_words(permitted.to), request.query_params.get("next", ""), "")
    return page_response(request, permitted, "code.html", content)


@page("/sign-in/code", who="anyone", method="POST")
def tell_code(request: Request, permitted: Permitted) -> Response:
    """Let somebody in by the code."""
    token, back_to = token_of(request), permitted.text("next")
    answer = Refusal.WRONG if token is None else confirm_code(permitted.service, token, permitted.text("code"))
    if isinstance(answer, SignedIn):
        return signed_in_response(request, answer, back_to)
    words = entry_words(permitted.to)
    problem = words["too often" if answer is Refusal.TOO_OFTEN else "code_wrong"]
    status = 429 if answer is Refusal.TOO_OFTEN else 403
    return page_response(request, permitted, "code.html", CodeContent(words, back_to, problem), status)


@page("/sign-out", who="anyone", method="POST")
def leave(request: Request, permitted: Permitted) -> Response:
    """Sign somebody out, on this browser or everywhere."""
    token = token_of(request)
    with permitted.service.database.writing() as connection:
        if permitted.account is not None and permitted.text("where") == "everywhere":
            revoke_sessions(connection, permitted.now_ms, permitted.account, actor_id=permitted.account.user_id)
        if token is not None:
            sign_out(connection, permitted.now_ms, token)
    response = RedirectResponse("/sign-in?out=yes", status_code=303)
    forget(response, secure=request.app.state.secure)
    # what the browser kept of our pages goes too
    response.headers["clear-site-data"] = '"cache"'
    return response


def signed_in_response(request: Request, answer: SignedIn, back_to: str = "") -> Response:
    """Lead somebody who signed in to where they wanted to go.

    Parameters
    ----------
    request : Request
        What was asked for.
    answer : SignedIn
        Who it is.
    back_to : str
        Path of a page of ours; anything else is left aside.

    Returns
    -------
    Response
        With the sign-in's cookie.
    """
    response = RedirectResponse(_local(back_to), status_code=303)
    keep(response, answer.token, secure=request.app.state.secure)
    return response


def _local(path: str) -> str:
    """Keep a path of ours; never lead anywhere else."""
    parts = urlsplit(path)
    if not path.startswith("/") or path.startswith("//") or "\\" in path:
        return "/"
    return quote(parts.path, safe="/") or "/"


def _sign_in_page(
    request: Request, permitted: Permitted, back_to: str, *, problem: str = "", name: str = "", told: str = ""
) -> Response:
    words = entry_words(permitted.to)
    others = tuple((each, speech(each).name) for each in languages() if each != permitted.to.language)
    content = SignInContent(words, others, name, back_to, words.get(problem, ""), words.get(told, ""))
    status = {"": 200, Refusal.TOO_OFTEN.value: 429}.get(problem, 403)
    return page_response(request, permitted, "sign_in.html", content, status)
