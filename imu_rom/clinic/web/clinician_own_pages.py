"""A clinician's own account: a second factor begun, confirmed and removed; signing out everywhere."""

from dataclasses import dataclass

from sqlalchemy import Connection
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from imu_rom.clinic.accounts import sign_in_name_of
from imu_rom.clinic.audit import record
from imu_rom.clinic.rate_limits import RateLimit, count
from imu_rom.clinic.second_factors import (
    KEY_PURPOSE,
    begin_second_factor,
    confirm_second_factor,
    enrolment_address,
    has_second_factor,
    remove_second_factor,
    use_code,
)
from imu_rom.clinic.sign_ins import MINUTE_MS, RATE_KEY, revoke_sessions
from imu_rom.clinic.web.clinician_frame import back
from imu_rom.clinic.web.permissions import Permitted
from imu_rom.clinic.web.rendering import page_response
from imu_rom.clinic.web.routes import page
from imu_rom.errors import ClinicError
from imu_rom.wording.clinic_list_text import told_words

__all__ = ["OwnContent"]

_WRONG = "This code is not right, or was used already. Take the one that the app shows now."
_TOO_OFTEN = "That was tried too often. Wait a quarter of an hour."


@dataclass(frozen=True)
class OwnContent:
    """What the page shows.

    Parameters
    ----------
    told : str
        What was just done; may be empty.
    sign_in_name : str
        Who reads.
    second_factor : bool
        Whether a code is asked for at signing in.
    secret, address : str
        Of a second factor that is being set up, to be typed into an app and as a link; else empty.
    problem : str
        What is to be mended; empty for nothing.
    """

    told: str
    sign_in_name: str
    second_factor: bool
    secret: str
    address: str
    problem: str


@page("/account", who="clinician")
def own_account(request: Request, permitted: Permitted) -> Response:
    """Show the account."""
    return _own_page(request, permitted)


def _own_page(request: Request, permitted: Permitted, problem: str = "", secret: str = "") -> Response:
    actor = permitted.actor
    with permitted.service.database.reading() as connection:
        name = sign_in_name_of(connection, actor.user_id) or ""
        has_factor = has_second_factor(connection, actor)
    content = OwnContent(
        told=told_words(request.query_params.get("told", "")),
        sign_in_name=name,
        second_factor=has_factor,
        secret=secret,
        address=enrolment_address(secret, name) if secret else "",
        problem=problem,
    )
    return page_response(request, permitted, "own_account.html", content, 400 if problem else 200)


@page("/account/second-factor", who="clinician", method="POST")
def change_second_factor(request: Request, permitted: Permitted) -> Response:
    """Begin a second factor, put it into use by its first code, or remove it by another."""
    actor, change = permitted.actor, permitted.text("change")
    secret, problem = "", ""
    try:
        with permitted.service.database.writing() as connection:
            if change == "begin":
                key = permitted.service.configuration.key(KEY_PURPOSE)
                secret = begin_second_factor(connection, actor, key)
                record(
                    connection,
                    permitted.now_ms,
                    clinic_id=actor.clinic_id,
                    actor_id=actor.user_id,
                    action="begin second factor",
                    object_kind="user",
                    object_id=actor.user_id,
                )
            elif change in {"confirm", "remove"}:
                problem = _by_code(connection, permitted, remove=change == "remove")
    except ClinicError as error:
        return _own_page(request, permitted, str(error))
    if secret or problem or change == "begin":
        # a secret that is being set up stays on the page after a wrong code
        return _own_page(request, permitted, problem, secret or permitted.text("secret"))
    return back("/account", "no-second-factor" if change == "remove" else "second-factor")


def _by_code(connection: Connection, permitted: Permitted, *, remove: bool) -> str:
    """Confirm or remove a second factor; gives what is to be mended."""
    actor, now_ms, configuration = permitted.actor, permitted.now_ms, permitted.service.configuration
    limit = RateLimit("code", configuration.limits.sign_ins_per_name, configuration.limits.sign_in_minutes * MINUTE_MS)
    if not count(connection, now_ms, configuration.key(RATE_KEY), limit, actor.user_id):
        return _TOO_OFTEN
    key, code = configuration.key(KEY_PURPOSE), permitted.text("code")
    prove = use_code if remove else confirm_second_factor
    if not prove(connection, now_ms, actor, key, code):
        record(
            connection,
            now_ms,
            clinic_id=actor.clinic_id,
            actor_id=actor.user_id,
            action="refuse code",
            object_kind="user",
            object_id=actor.user_id,
        )
        return _WRONG
    if remove:
        remove_second_factor(connection, now_ms, actor, actor_id=actor.user_id)
    return ""


@page("/account/sign-out", who="clinician", method="POST")
def sign_out_everywhere(request: Request, permitted: Permitted) -> Response:
    """End all sessions, this one included."""
    del request
    actor = permitted.actor
    with permitted.service.database.writing() as connection:
        revoke_sessions(connection, permitted.now_ms, actor, actor_id=actor.user_id)
    return RedirectResponse("/sign-in?out=1", status_code=303)
