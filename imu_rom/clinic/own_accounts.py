"""What somebody who is signed in changes about the own way to sign in; the passphrase is asked for each time.

A browser that was left open is not enough to lock its owner out.
"""

from sqlalchemy import Connection, select, update

from imu_rom.clinic.accounts import Account, sign_in_name_of
from imu_rom.clinic.audit import record
from imu_rom.clinic.passphrases import is_right
from imu_rom.clinic.rate_limits import count, forget
from imu_rom.clinic.schema import users, web_sessions
from imu_rom.clinic.service import Service
from imu_rom.clinic.sign_ins import RATE_KEY, Refusal, rate_limits_of
from imu_rom.clinic.tokens import token_hash

__all__ = ["change_passphrase", "refusal_of"]


def refusal_of(service: Service, account: Account, passphrase: str) -> Refusal | None:
    """Ask somebody who is signed in for the passphrase again; tries are counted together with those to sign in.

    Parameters
    ----------
    service : Service
        Where the account is.
    account : Account
        Who is signed in.
    passphrase : str
        As typed.

    Returns
    -------
    Refusal or None
        None where it is right.
    """
    now_ms, key = service.clock.now_ms(), service.configuration.key(RATE_KEY)
    by_name, _ = rate_limits_of(service.configuration.limits)
    with service.database.writing() as connection:
        name = sign_in_name_of(connection, account.user_id) or ""
        if not count(connection, now_ms, key, by_name, name):
            return Refusal.TOO_OFTEN
        kept = connection.scalar(select(users.c.passphrase_hash).where(users.c.id == account.user_id, users.c.active))
    # outside of transactions, since hashing takes long
    right = kept is not None and is_right(kept, passphrase)
    with service.database.writing() as connection:
        if right:
            forget(connection, key, by_name, name)
            return None
        _record(connection, now_ms, account, "refuse passphrase")
    return Refusal.WRONG


def change_passphrase(
    connection: Connection, now_ms: int, account: Account, passphrase_hash: str, *, stay: str | None
) -> None:
    """Set a new passphrase, and end all sessions but the one that it was typed in.

    Parameters
    ----------
    connection : Connection
        Of a writing transaction.
    now_ms : int
        When.
    account : Account
        Whose.
    passphrase_hash : str
        Of `passphrases.hash_passphrase`, worked out before the transaction.
    stay : str or None
        Token of the session that goes on.
    """
    connection.execute(update(users).where(users.c.id == account.user_id).values(passphrase_hash=passphrase_hash))
    others = [web_sessions.c.user_id == account.user_id, web_sessions.c.revoked_at_ms.is_(None)]
    if stay is not None:
        others.append(web_sessions.c.token_sha256 != token_hash(stay))
    connection.execute(update(web_sessions).where(*others).values(revoked_at_ms=now_ms))
    _record(connection, now_ms, account, "change passphrase")


def _record(connection: Connection, now_ms: int, account: Account, action: str) -> None:
    record(
        connection,
        now_ms,
        clinic_id=account.clinic_id,
        actor_id=account.user_id,
        action=action,
        object_kind="user",
        object_id=account.user_id,
    )
