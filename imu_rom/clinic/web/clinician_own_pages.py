"""A clinician's own account: passphrase and second factor."""

from dataclasses import dataclass

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from imu_rom.clinic.accounts import sign_in_name_of
from imu_rom.clinic.audit import record
from imu_rom.clinic.own_accounts import change_passphrase, refusal_of
from imu_rom.clinic.passphrases import hash_passphrase
from imu_rom.clinic.second_factors import (
    KEY_PURPOSE,
    begin_second_factor,
    confirm_second_factor,
    enrolment_address,
    enrolment_picture,
    has_second_factor,
    remove_second_factor,
    secret_to_confirm,
)
from imu_rom.clinic.web.clinician_frame import back
from imu_rom.clinic.web.permissions import Permitted
from imu_rom.clinic.web.rendering import page_response
from imu_rom.clinic.web.routes import page
from imu_rom.errors import ClinicError
from imu_rom.wording.clinic_list_text import told_words
from imu_rom.wording.own_account_text import refused_words, wrong_code

__all__ = ["OwnAccountContent", "SecretContent"]

LETTERS_TOGETHER = 4


@dataclass(frozen=True)
class OwnAccountContent:
    """What the page of an own account shows.

    Parameters
    ----------
    sign_in_name : str
        The name typed when signing in.
    second_factor : bool
        Whether a code is asked for.
    told : str
        What was just done; empty for nothing.
    problems : dict of str to str
        By the form that has one: ``passphrase``, ``second``.
    """

    sign_in_name: str
    second_factor: bool
    told: str
    problems: dict[str, str]


@dataclass(frozen=True)
class SecretContent:
    """What the page shows that hands a second factor over.

    Parameters
    ----------
    address : str
        For an app on the same device.
    picture : str
        The same for another device's camera: an ``svg`` element.
    secret : str
        To be typed in, in groups.
    problem : str
        What is to be mended; empty for nothing.
    """

    address: str
    picture: str
    secret: str
    problem: str


@page("/account", who="clinician")
def own_account(request: Request, permitted: Permitted) -> Response:
    """Show the own account."""
    return _account_page(request, permitted, {})


@page("/account/passphrase", who="clinician", method="POST")
def new_passphrase(request: Request, permitted: Permitted) -> Response:
    """Take a new passphrase."""
    service, actor = permitted.service, permitted.actor
    refused = refusal_of(service, actor, permitted.text("passphrase"))
    if refused is not None:
        return _account_page(request, permitted, {"passphrase": refused_words(refused.value)})
    try:
        hashed = hash_passphrase(permitted.text("new"), _name(permitted))
    except ClinicError as error:
        return _account_page(request, permitted, {"new": str(error)})
    with service.database.writing() as connection:
        change_passphrase(connection, permitted.now_ms, actor, hashed, stay=permitted.token)
    return back("/account", "new-passphrase")


@page("/account/second-factor", who="clinician", method="POST")
def change_second_factor(request: Request, permitted: Permitted) -> Response:
    """Hand out a new secret, or ask for no code any more."""
    service, actor = permitted.service, permitted.actor
    refused = refusal_of(service, actor, permitted.text("passphrase"))
    if refused is not None:
        return _account_page(request, permitted, {"second": refused_words(refused.value)})
    with service.database.writing() as connection:
        if has_second_factor(connection, actor):
            remove_second_factor(connection, permitted.now_ms, actor, actor_id=actor.user_id)
            return back("/account", "no-second-factor")
        begin_second_factor(connection, actor, _key(permitted))
        record(
            connection,
            permitted.now_ms,
            clinic_id=actor.clinic_id,
            actor_id=actor.user_id,
            action="begin second factor",
            object_kind="user",
            object_id=actor.user_id,
        )
    return RedirectResponse("/account/second-factor", status_code=303)


@page("/account/second-factor", who="clinician")
def secret_page(request: Request, permitted: Permitted) -> Response:
    """Show the secret until its first code was typed."""
    return _secret_page(request, permitted, "")


@page("/account/second-factor/code", who="clinician", method="POST")
def first_code(request: Request, permitted: Permitted) -> Response:
    """Put the second factor into use by its first code."""
    with permitted.service.database.writing() as connection:
        right = confirm_second_factor(
            connection, permitted.now_ms, permitted.actor, _key(permitted), permitted.text("code")
        )
    if not right:
        return _secret_page(request, permitted, wrong_code())
    return back("/account", "second-factor")


def _account_page(request: Request, permitted: Permitted, problems: dict[str, str]) -> Response:
    with permitted.service.database.reading() as connection:
        second_factor = has_second_factor(connection, permitted.actor)
    told = "" if problems else told_words(request.query_params.get("told", ""))
    content = OwnAccountContent(_name(permitted), second_factor, told, problems)
    return page_response(request, permitted, "own_account.html", content, 403 if problems else 200)


def _secret_page(request: Request, permitted: Permitted, problem: str) -> Response:
    with permitted.service.database.reading() as connection:
        secret = secret_to_confirm(connection, permitted.actor, _key(permitted))
    if secret is None:
        return RedirectResponse("/account", status_code=303)
    groups = " ".join(secret[at : at + LETTERS_TOGETHER] for at in range(0, len(secret), LETTERS_TOGETHER))
    address = enrolment_address(secret, _name(permitted))
    content = SecretContent(address, enrolment_picture(address), groups, problem)
    return page_response(request, permitted, "second_factor.html", content, 403 if problem else 200)


def _name(permitted: Permitted) -> str:
    with permitted.service.database.reading() as connection:
        return sign_in_name_of(connection, permitted.actor.user_id) or ""


def _key(permitted: Permitted) -> bytes:
    return permitted.service.configuration.key(KEY_PURPOSE)
