"""Signing in and staying signed in.

Unknown names and wrong passphrases get the same answer, after the same work: one count, one hash, one entry in the
trail.
"""

import hmac
from dataclasses import dataclass, field
from enum import Enum

from sqlalchemy import Connection, Row, delete, insert, select, update

from imu_rom.clinic.accounts import CLINICIAN, Account, plain_name
from imu_rom.clinic.audit import record
from imu_rom.clinic.configuration import Limits
from imu_rom.clinic.passphrases import hash_anew, is_outdated, is_right, waste_as_long
from imu_rom.clinic.rate_limits import RateLimit, count, forget, network_of
from imu_rom.clinic.schema import patients, users, web_sessions
from imu_rom.clinic.second_factors import KEY_PURPOSE, use_code
from imu_rom.clinic.service import Service
from imu_rom.clinic.tokens import new_token, token_hash

__all__ = [
    "RATE_KEY",
    "Refusal",
    "SignedIn",
    "confirm_code",
    "keep_alive",
    "rate_limits_of",
    "revoke_sessions",
    "session_account",
    "sign_in",
    "sign_out",
    "start_session",
    "sweep_sessions",
    "waiting_account",
]

MINUTE_MS = 60_000
RATE_KEY = "rate limits"
"""What `Configuration.key` is asked for."""
NAME_KEY = "names that were tried"
# a request within this time of the one before writes nothing
SEEN_EVERY_MS = MINUTE_MS
# clocks of several machines differ by less; a session from further ahead would outlive its time
CLOCKS_DIFFER_MS = 5 * MINUTE_MS
# common practice, no source
ENDED_KEPT_MS = 30 * 24 * 60 * MINUTE_MS


class Refusal(Enum):
    """Why nobody was signed in; more is not said."""

    WRONG = "wrong"
    TOO_OFTEN = "too often"


@dataclass(frozen=True)
class SignedIn:
    """Somebody who signed in.

    Parameters
    ----------
    account : Account
        Who.
    token : str
        Of the session; kept nowhere else.
    code_needed : bool
        Whether a code must follow before anything can be seen.
    """

    account: Account
    token: str = field(repr=False)
    code_needed: bool


def sign_in(service: Service, name: str, passphrase: str, address: str) -> SignedIn | Refusal:
    """Sign somebody in by name and passphrase.

    Parameters
    ----------
    service : Service
        Where the account is.
    name, passphrase : str
        As typed.
    address : str
        Where the request came from.

    Returns
    -------
    SignedIn or Refusal
        The same refusal, after the same time, whether the name is unknown or the passphrase wrong.
    """
    now_ms = service.clock.now_ms()
    limits, key = service.configuration.limits, service.configuration.key(RATE_KEY)
    name, address = plain_name(name), network_of(address)
    by_name, by_address = rate_limits_of(limits)
    with service.database.writing() as connection:
        # both are counted, whichever is over
        within = [count(connection, now_ms, key, by_name, name), count(connection, now_ms, key, by_address, address)]
        user = connection.execute(select(users).where(users.c.sign_in_name == name, users.c.active)).one_or_none()
    if not all(within):
        return Refusal.TOO_OFTEN
    # outside of transactions, since hashing takes long
    right = _compared(user, passphrase)
    anew = hash_anew(passphrase) if right and user is not None and is_outdated(user.passphrase_hash) else None
    tried = hmac.digest(service.configuration.key(NAME_KEY), name.encode("utf-8", "replace"), "sha256").hex()[:32]
    with service.database.writing() as connection:
        if user is None or not right:
            _record(connection, now_ms, None, None, "refuse sign-in", "name", tried)
            return Refusal.WRONG
        forget(connection, key, by_name, name)
        if anew is not None:
            same = users.c.id == user.id, users.c.passphrase_hash == user.passphrase_hash
            connection.execute(update(users).where(*same).values(passphrase_hash=anew))
        return start_session(connection, now_ms, user.id, limits)


def start_session(connection: Connection, now_ms: int, user_id: str, limits: Limits) -> SignedIn:
    """Begin a session for somebody who has proved to be who they are.

    Parameters
    ----------
    connection : Connection
        Of a writing transaction.
    now_ms : int
        When.
    user_id : str
        Who.
    limits : Limits
        How long it lasts.

    Returns
    -------
    SignedIn
        With the session's token.
    """
    user = connection.execute(select(users).where(users.c.id == user_id)).one()
    patient_id = connection.scalar(select(patients.c.id).where(patients.c.user_id == user_id))
    account = Account(user.id, user.clinic_id, user.role, patient_id)
    token, code_needed = new_token(), user.totp_step is not None
    connection.execute(
        insert(web_sessions).values(
            token_sha256=token_hash(token),
            user_id=user_id,
            created_at_ms=now_ms,
            seen_at_ms=now_ms,
            expires_at_ms=_expires(now_ms, now_ms, account.role, limits),
            second_factor_done=not code_needed,
        )
    )
    _record(connection, now_ms, account.clinic_id, user_id, "sign in", "user", user_id)
    return SignedIn(account, token, code_needed)


def session_account(connection: Connection, token: str, now_ms: int) -> Account | None:
    """Tell who is signed in.

    Parameters
    ----------
    connection : Connection
        Of a transaction.
    token : str
        As it came.
    now_ms : int
        When.

    Returns
    -------
    Account or None
        None for unknown, ended, revoked and expired sessions, and while a code is still to come.
    """
    found = _session(connection, token, now_ms)
    return None if found is None or not found.second_factor_done else _account(found)


def waiting_account(connection: Connection, token: str, now_ms: int) -> Account | None:
    """Tell who has given name and passphrase, and not yet the code.

    Parameters
    ----------
    connection : Connection
        Of a transaction.
    token : str
        As it came.
    now_ms : int
        When.

    Returns
    -------
    Account or None
        None where no code is waited for.
    """
    found = _session(connection, token, now_ms)
    return None if found is None or found.second_factor_done else _account(found)


def confirm_code(service: Service, token: str, code: str) -> SignedIn | Refusal:
    """Let somebody in who has given name and passphrase, by the code; under a new token.

    Parameters
    ----------
    service : Service
        Where the account is.
    token : str
        Of the session that waits for it.
    code : str
        As typed.

    Returns
    -------
    SignedIn or Refusal
        The new session; the old token opens nothing any more.
    """
    now_ms = service.clock.now_ms()
    configuration = service.configuration
    limit = RateLimit("code", configuration.limits.sign_ins_per_name, configuration.limits.sign_in_minutes * MINUTE_MS)
    with service.database.writing() as connection:
        account = waiting_account(connection, token, now_ms)
        if account is None:
            return Refusal.WRONG
        if not count(connection, now_ms, configuration.key(RATE_KEY), limit, account.user_id):
            return Refusal.TOO_OFTEN
        if not use_code(connection, now_ms, account, configuration.key(KEY_PURPOSE), code):
            _record(connection, now_ms, account.clinic_id, account.user_id, "refuse code", "user", account.user_id)
            return Refusal.WRONG
        forget(connection, configuration.key(RATE_KEY), limit, account.user_id)
        new = new_token()
        connection.execute(
            update(web_sessions)
            .where(web_sessions.c.token_sha256 == token_hash(token))
            .values(
                token_sha256=token_hash(new),
                seen_at_ms=now_ms,
                expires_at_ms=_expires(now_ms, now_ms, account.role, configuration.limits),
                second_factor_done=True,
            )
        )
        _record(connection, now_ms, account.clinic_id, account.user_id, "give code", "user", account.user_id)
    return SignedIn(account, new, code_needed=False)


def keep_alive(service: Service, token: str) -> None:
    """Note that somebody is still there; writes once a minute at most.

    Parameters
    ----------
    service : Service
        Where the session is.
    token : str
        Of the session.
    """
    now_ms = service.clock.now_ms()
    with service.database.reading() as connection:
        found = _session(connection, token, now_ms)
    if found is None or not found.second_factor_done or abs(now_ms - found.seen_at_ms) < SEEN_EVERY_MS:
        return
    until = _expires(now_ms, found.created_at_ms, found.role, service.configuration.limits)
    still_open = web_sessions.c.token_sha256 == token_hash(token), web_sessions.c.revoked_at_ms.is_(None)
    with service.database.writing(alone=False) as connection:
        connection.execute(update(web_sessions).where(*still_open).values(seen_at_ms=now_ms, expires_at_ms=until))


def sign_out(connection: Connection, now_ms: int, token: str) -> None:
    """End a session; one that is over already stays so.

    Parameters
    ----------
    connection : Connection
        Of a writing transaction.
    now_ms : int
        When.
    token : str
        Of the session.
    """
    found = _session(connection, token, now_ms)
    if found is None:
        return
    this_one = web_sessions.c.token_sha256 == token_hash(token)
    connection.execute(update(web_sessions).where(this_one).values(revoked_at_ms=now_ms))
    _record(connection, now_ms, found.clinic_id, found.user_id, "sign out", "user", found.user_id)


def revoke_sessions(connection: Connection, now_ms: int, account: Account, *, actor_id: str | None) -> int:
    """End all sessions of somebody, such as after a phone was lost.

    Parameters
    ----------
    connection : Connection
        Of a writing transaction.
    now_ms : int
        When.
    account : Account
        Whose.
    actor_id : str or None
        Who does it; None for the owner.

    Returns
    -------
    int
        How many were open.
    """
    theirs = web_sessions.c.user_id == account.user_id, web_sessions.c.revoked_at_ms.is_(None)
    ended = connection.execute(update(web_sessions).where(*theirs).values(revoked_at_ms=now_ms)).rowcount
    _record(connection, now_ms, account.clinic_id, actor_id, "end sessions", "user", account.user_id)
    return ended


def sweep_sessions(connection: Connection, now_ms: int) -> None:
    """Remove sessions that ended long ago; that somebody signed in stays in the trail.

    Parameters
    ----------
    connection : Connection
        Of a writing transaction.
    now_ms : int
        When.
    """
    connection.execute(delete(web_sessions).where(web_sessions.c.expires_at_ms < now_ms - ENDED_KEPT_MS))


def rate_limits_of(limits: Limits) -> tuple[RateLimit, RateLimit]:
    """Say how often signing in may be tried.

    Parameters
    ----------
    limits : Limits
        As configured.

    Returns
    -------
    tuple of RateLimit
        Under one name, and from one address.
    """
    window_ms = limits.sign_in_minutes * MINUTE_MS
    return (
        RateLimit("sign in by name", limits.sign_ins_per_name, window_ms),
        RateLimit("sign in by address", limits.sign_ins_per_address, window_ms),
    )


def _compared(user: Row[tuple[object, ...]] | None, passphrase: str) -> bool:
    if user is None or user.passphrase_hash is None:
        waste_as_long(passphrase)
        return False
    return is_right(user.passphrase_hash, passphrase)


def _expires(now_ms: int, began_ms: int, role: str, limits: Limits) -> int:
    """Work out until when a session lasts if nobody comes back: idle time from now, and never past its whole time."""
    idle_minutes = limits.clinician_idle_minutes if role == CLINICIAN else limits.patient_idle_minutes
    return min(now_ms + idle_minutes * MINUTE_MS, began_ms + limits.session_hours * 60 * MINUTE_MS)


def _session(connection: Connection, token: str, now_ms: int) -> Row[tuple[object, ...]] | None:
    return connection.execute(
        select(web_sessions, users.c.clinic_id, users.c.role, patients.c.id.label("patient_id"))
        .join(users, users.c.id == web_sessions.c.user_id)
        .outerjoin(patients, patients.c.user_id == users.c.id)
        .where(
            web_sessions.c.token_sha256 == token_hash(token),
            web_sessions.c.revoked_at_ms.is_(None),
            web_sessions.c.expires_at_ms > now_ms,
            web_sessions.c.seen_at_ms <= now_ms + CLOCKS_DIFFER_MS,
            users.c.active,
        )
    ).one_or_none()


def _account(found: Row[tuple[object, ...]]) -> Account:
    return Account(found.user_id, found.clinic_id, found.role, found.patient_id)


def _record(
    connection: Connection,
    now_ms: int,
    clinic_id: str | None,
    actor_id: str | None,
    action: str,
    object_kind: str,
    object_id: str,
) -> None:
    record(
        connection,
        now_ms,
        clinic_id=clinic_id,
        actor_id=actor_id,
        action=action,
        object_kind=object_kind,
        object_id=object_id,
    )
