"""Codes that a clinician's phone shows, asked for beside the passphrase; each counts once.

Time-based one-time passwords (RFC 6238) with the parameters that every such app knows: SHA-1, six digits, 30 seconds.
The secret is kept encrypted, so that a copy of the database alone gives no codes.
"""

import base64
import hmac
import secrets

import pyotp
import segno
from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from sqlalchemy import Connection, or_, select, update

from imu_rom.clinic.accounts import Account
from imu_rom.clinic.audit import record
from imu_rom.clinic.schema import users
from imu_rom.errors import ClinicError

__all__ = [
    "KEY_PURPOSE",
    "begin_second_factor",
    "confirm_second_factor",
    "enrolment_address",
    "enrolment_picture",
    "has_second_factor",
    "remove_second_factor",
    "secret_to_confirm",
    "use_code",
]

KEY_PURPOSE = "second factor"
"""What `Configuration.key` is asked for."""
STEP_S = 30
DIGITS = 6
# RFC 6238, 5.2: one step of delay at most; one ahead as well, for a phone whose clock is fast
STEPS_AROUND = 1
NONCE_BYTES = 12
PICTURE_SCALE = 4
ISSUER = "imu-rom"


def begin_second_factor(connection: Connection, account: Account, key: bytes) -> str:
    """Make a new secret for somebody who has none in use; it counts from the first right code on.

    Parameters
    ----------
    connection : Connection
        Of a writing transaction.
    account : Account
        Whose.
    key : bytes
        What the secret is encrypted with.

    Returns
    -------
    str
        The secret in base 32, to be typed into an app or put into `enrolment_address`.

    Raises
    ------
    ClinicError
        If one is in use already.
    """
    secret = pyotp.random_base32(length=32)
    unused = users.c.id == account.user_id, users.c.totp_step.is_(None)
    done = connection.execute(update(users).where(*unused).values(totp_secret=_sealed(secret, account, key)))
    if done.rowcount != 1:
        raise ClinicError("a second factor is in use already", do="remove it first")
    return secret


def secret_to_confirm(connection: Connection, account: Account, key: bytes) -> str | None:
    """Read the secret that waits for its first code.

    Parameters
    ----------
    connection : Connection
        Of a transaction.
    account : Account
        Whose.
    key : bytes
        What the secret is encrypted with.

    Returns
    -------
    str or None
        In base 32; None where none waits: one that is in use is shown to nobody.

    Raises
    ------
    ClinicError
        If it can't be decrypted, because the service has another key now.
    """
    unused = users.c.id == account.user_id, users.c.totp_step.is_(None)
    sealed = connection.scalar(select(users.c.totp_secret).where(*unused))
    return None if sealed is None else _opened(sealed, account, key)


def enrolment_picture(address: str) -> str:
    """Draw an address as the picture that apps read with a camera (QR code, ISO/IEC 18004).

    Parameters
    ----------
    address : str
        As `enrolment_address` writes it.

    Returns
    -------
    str
        An ``svg`` element, dark on light whatever the page's colours are, without style of its own.
    """
    made: str = segno.make_qr(address, error="m").svg_inline(
        scale=PICTURE_SCALE, dark="#000", light="#fff", svgclass="qr", lineclass=None
    )
    return made


def enrolment_address(secret: str, sign_in_name: str) -> str:
    """Write a secret as the address that apps read from a link or a picture.

    Parameters
    ----------
    secret : str
        In base 32.
    sign_in_name : str
        Under which the app lists it.

    Returns
    -------
    str
        ``otpauth://totp/...``.
    """
    return pyotp.TOTP(secret).provisioning_uri(name=sign_in_name, issuer_name=ISSUER)


def confirm_second_factor(connection: Connection, now_ms: int, account: Account, key: bytes, code: str) -> bool:
    """Put a secret into use, by the first code of it.

    Parameters
    ----------
    connection : Connection
        Of a writing transaction.
    now_ms : int
        When.
    account : Account
        Whose.
    key : bytes
        What the secret is encrypted with.
    code : str
        As typed.

    Returns
    -------
    bool
        Whether the code was right; otherwise nothing changes.
    """
    if has_second_factor(connection, account) or not use_code(connection, now_ms, account, key, code):
        return False
    _record(connection, now_ms, account, account.user_id, "set second factor")
    return True


def has_second_factor(connection: Connection, account: Account) -> bool:
    """Tell whether a code is asked for when somebody signs in.

    Parameters
    ----------
    connection : Connection
        Of a transaction.
    account : Account
        Whose.

    Returns
    -------
    bool
        True once the first code was right.
    """
    return connection.scalar(select(users.c.totp_step).where(users.c.id == account.user_id)) is not None


def use_code(connection: Connection, now_ms: int, account: Account, key: bytes, code: str) -> bool:
    """Use a code up.

    Parameters
    ----------
    connection : Connection
        Of a writing transaction.
    now_ms : int
        When.
    account : Account
        Whose.
    key : bytes
        What the secret is encrypted with.
    code : str
        As typed.

    Returns
    -------
    bool
        Whether it was right, and neither it nor a later one was used before.

    Raises
    ------
    ClinicError
        If the secret can't be decrypted, because the service has another key now.
    """
    sealed = connection.scalar(select(users.c.totp_secret).where(users.c.id == account.user_id))
    if sealed is None:
        return False
    generator = pyotp.TOTP(_opened(sealed, account, key), digits=DIGITS, interval=STEP_S)
    typed = "".join(code.split()).encode("utf-8", "replace")
    now_step = now_ms // 1000 // STEP_S
    for step in range(now_step - STEPS_AROUND, now_step + STEPS_AROUND + 1):
        if not hmac.compare_digest(generator.generate_otp(max(step, 0)).encode(), typed):
            continue
        newer = or_(users.c.totp_step.is_(None), users.c.totp_step < step)
        used = connection.execute(update(users).where(users.c.id == account.user_id, newer).values(totp_step=step))
        if used.rowcount == 1:
            return True
    return False


def remove_second_factor(connection: Connection, now_ms: int, account: Account, *, actor_id: str | None) -> None:
    """Ask for no code any more, such as after a phone was lost.

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
    """
    connection.execute(update(users).where(users.c.id == account.user_id).values(totp_secret=None, totp_step=None))
    _record(connection, now_ms, account, actor_id, "remove second factor")


def _sealed(secret: str, account: Account, key: bytes) -> str:
    nonce = secrets.token_bytes(NONCE_BYTES)
    return base64.b64encode(nonce + AESGCM(key).encrypt(nonce, secret.encode(), account.user_id.encode())).decode()


def _opened(sealed: str, account: Account, key: bytes) -> str:
    whole = base64.b64decode(sealed)
    try:
        return AESGCM(key).decrypt(whole[:NONCE_BYTES], whole[NONCE_BYTES:], account.user_id.encode()).decode()
    except InvalidTag:
        what = "the second factor can't be read: the service has another secret than when it was set"
        advice = "put the old secret.key back, or have the owner remove the second factor"
        raise ClinicError(what, do=advice) from None


def _record(connection: Connection, now_ms: int, account: Account, actor_id: str | None, action: str) -> None:
    record(
        connection,
        now_ms,
        clinic_id=account.clinic_id,
        actor_id=actor_id,
        action=action,
        object_kind="user",
        object_id=account.user_id,
    )
