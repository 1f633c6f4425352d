"""Invitations to join and to set a new passphrase: opened once, within their time, kept as a hash."""

from dataclasses import dataclass, field

from sqlalchemy import Connection, insert, select, update

from imu_rom.clinic.accounts import Account, read_account
from imu_rom.clinic.audit import record
from imu_rom.clinic.clinics import read_clinic
from imu_rom.clinic.configuration import Configuration, Limits
from imu_rom.clinic.database import new_id
from imu_rom.clinic.schema import invitations, users, web_sessions
from imu_rom.clinic.tokens import new_token, token_hash
from imu_rom.errors import ClinicError

__all__ = [
    "JOIN",
    "RESET",
    "Invitation",
    "OpenInvitation",
    "accept_invitation",
    "invitation_link",
    "invite",
    "open_invitation",
]

JOIN = "join"
RESET = "reset"
HOUR_MS = 3_600_000


@dataclass(frozen=True)
class Invitation:
    """An invitation that was just made; its token is kept nowhere else.

    Parameters
    ----------
    invitation_id : str
        Its id.
    token : str
        What opens it.
    purpose : str
        ``"join"``, or ``"reset"`` for somebody who has a passphrase already.
    expires_at_ms : int
        Until when.
    """

    invitation_id: str
    token: str = field(repr=False)
    purpose: str
    expires_at_ms: int


@dataclass(frozen=True)
class OpenInvitation:
    """An invitation that can be accepted.

    Parameters
    ----------
    invitation_id : str
        Its id.
    account : Account
        Who is invited.
    sign_in_name : str
        Under which name this person signs in.
    purpose : str
        ``"join"`` or ``"reset"``.
    expires_at_ms : int
        Until when.
    """

    invitation_id: str
    account: Account
    sign_in_name: str
    purpose: str
    expires_at_ms: int


def invite(
    connection: Connection, now_ms: int, account: Account, *, limits: Limits, actor_id: str | None
) -> Invitation:
    """Make an invitation; those made earlier for the same person open nothing any more.

    Parameters
    ----------
    connection : Connection
        Of a writing transaction.
    now_ms : int
        When.
    account : Account
        Who is invited.
    limits : Limits
        How long it can be opened.
    actor_id : str or None
        Who invites; None for the owner.

    Returns
    -------
    Invitation
        With its token, to be put into a link.

    Raises
    ------
    ClinicError
        While the clinic's phone number is missing, or for somebody who can't sign in any more.
    """
    clinic = read_clinic(connection, account.clinic_id)
    if clinic is None or clinic.phone is None:
        what = "nobody is invited while the clinic's phone number is missing"
        raise ClinicError(what, do="give it by imu-rom clinic init --phone")
    user = connection.execute(select(users).where(users.c.id == account.user_id, users.c.active)).one_or_none()
    if user is None:
        raise ClinicError(
            "this person can't sign in any more",
            do="reopen the account first, by imu-rom clinic close-account --reopen",
        )
    theirs = invitations.c.user_id == account.user_id, invitations.c.used_at_ms.is_(None)
    connection.execute(
        update(invitations).where(*theirs, invitations.c.revoked_at_ms.is_(None)).values(revoked_at_ms=now_ms)
    )
    purpose, hours = (JOIN, limits.invitation_hours) if user.passphrase_hash is None else (RESET, limits.reset_hours)
    made = Invitation(new_id(), new_token(), purpose, now_ms + hours * HOUR_MS)
    connection.execute(
        insert(invitations).values(
            id=made.invitation_id,
            user_id=account.user_id,
            purpose=purpose,
            token_sha256=token_hash(made.token),
            created_at_ms=now_ms,
            expires_at_ms=made.expires_at_ms,
        )
    )
    _record(connection, now_ms, account, made.invitation_id, actor_id, f"invite to {purpose}")
    return made


def invitation_link(configuration: Configuration, invitation: Invitation) -> str:
    """Write an invitation as the link that is handed over.

    Parameters
    ----------
    configuration : Configuration
        How the service is reached.
    invitation : Invitation
        Just made.

    Returns
    -------
    str
        An address.
    """
    return f"{configuration.public_url}/invitation/{invitation.token}"


def open_invitation(connection: Connection, now_ms: int, token: str) -> OpenInvitation | None:
    """Look an invitation up.

    Parameters
    ----------
    connection : Connection
        Of a transaction.
    now_ms : int
        When.
    token : str
        As it came.

    Returns
    -------
    OpenInvitation or None
        None where there is none, it was used or replaced, or its time is over: the same for all of them.
    """
    row = connection.execute(
        select(invitations, users.c.sign_in_name)
        .join(users, users.c.id == invitations.c.user_id)
        .where(
            invitations.c.token_sha256 == token_hash(token),
            invitations.c.used_at_ms.is_(None),
            invitations.c.revoked_at_ms.is_(None),
            invitations.c.expires_at_ms > now_ms,
        )
    ).one_or_none()
    account = None if row is None else read_account(connection, row.user_id)
    if row is None or account is None:
        return None
    return OpenInvitation(row.id, account, row.sign_in_name, row.purpose, row.expires_at_ms)


def accept_invitation(connection: Connection, now_ms: int, token: str, passphrase_hash: str) -> Account:
    """Use an invitation up and set the passphrase; whoever is signed in under this account is signed out.

    Parameters
    ----------
    connection : Connection
        Of a writing transaction.
    now_ms : int
        When.
    token : str
        As it came.
    passphrase_hash : str
        Of `passphrases.hash_passphrase`, worked out before the transaction.

    Returns
    -------
    Account
        Who can sign in now.

    Raises
    ------
    ClinicError
        If the invitation is not open any more.
    """
    found = open_invitation(connection, now_ms, token)
    used = 0
    if found is not None:
        this_one = invitations.c.id == found.invitation_id, invitations.c.used_at_ms.is_(None)
        used = connection.execute(update(invitations).where(*this_one).values(used_at_ms=now_ms)).rowcount
    if found is None or used != 1:
        raise ClinicError("this link was used already, or its time is over", do="ask the clinic for a new one")
    account = found.account
    connection.execute(update(users).where(users.c.id == account.user_id).values(passphrase_hash=passphrase_hash))
    open_sessions = web_sessions.c.user_id == account.user_id, web_sessions.c.revoked_at_ms.is_(None)
    connection.execute(update(web_sessions).where(*open_sessions).values(revoked_at_ms=now_ms))
    _record(connection, now_ms, account, found.invitation_id, account.user_id, f"accept to {found.purpose}")
    return account


def _record(
    connection: Connection, now_ms: int, account: Account, invitation_id: str, actor_id: str | None, action: str
) -> None:
    record(
        connection,
        now_ms,
        clinic_id=account.clinic_id,
        actor_id=actor_id,
        action=action,
        object_kind="invitation",
        object_id=invitation_id,
    )
