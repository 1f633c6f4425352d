"""Passphrases: what one must be, and how it is kept."""

import secrets
import threading
import unicodedata
from functools import cache

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError
from argon2.low_level import Type

from imu_rom.errors import ClinicError

__all__ = [
    "FEWEST_CHARACTERS",
    "MOST_CHARACTERS",
    "hash_anew",
    "hash_passphrase",
    "is_outdated",
    "is_right",
    "waste_as_long",
]

# NIST SP 800-63B-4 (2025), 3.1.1.2: at least 15 where nothing else is asked for, 64 and more allowed, no rule on which
# characters, Unicode normalised before hashing. It asks for a list of passphrases that are known or expected too. Lists
# of leaked ones hold few of this length, so none is shipped: what is left must be long enough once the expected words,
# repetitions and rows of the keyboard are taken out.
FEWEST_CHARACTERS = 15
MOST_CHARACTERS = 256
FEWEST_LEFT = 8
FEWEST_DIFFERENT = 5
EXPECTED = (
    "passphrase",
    "passwort",
    "password",
    "kennwort",
    "achilles",
    "tendon",
    "sehne",
    "imurom",
    "clinic",
    "praxis",
)
ROWS = ("qwertyuiop", "qwertzuiop", "asdfghjkl", "zxcvbnm", "yxcvbnm", "abcdefghijklmnopqrstuvwxyz", "01234567890")
SHORTEST_ROW = 4
# RFC 9106 (2021), section 4, the second recommended option: Argon2id, 3 passes, 4 lanes, 64 MiB, salt of 128 bits, tag
# of 256 bits
PASSES = 3
LANES = 4
MEMORY_KIB = 64 * 1024
SALT_BYTES = 16
TAG_BYTES = 32
# each takes 64 MiB while it works
AT_ONCE = threading.BoundedSemaphore(4)


@cache
def _hasher() -> PasswordHasher:
    return PasswordHasher(PASSES, MEMORY_KIB, LANES, TAG_BYTES, SALT_BYTES, type=Type.ID)


def hash_passphrase(passphrase: str, sign_in_name: str) -> str:
    """Hash a new passphrase; takes about a tenth of a second, so do it outside of transactions.

    Parameters
    ----------
    passphrase : str
        As typed.
    sign_in_name : str
        Of the person, which the passphrase must not be made of.

    Returns
    -------
    str
        What is kept: Argon2's own text with its parameters and salt.

    Raises
    ------
    ClinicError
        If it is too short, too long or too easy to guess.
    """
    text = _normal(passphrase)
    if len(text) < FEWEST_CHARACTERS:
        advice = "take four or five words that only you would put together"
        raise ClinicError(
            f"a passphrase must have at least {FEWEST_CHARACTERS} characters, this one has {len(text)}", do=advice
        )
    if len(text) > MOST_CHARACTERS:
        raise ClinicError(f"a passphrase may have {MOST_CHARACTERS} characters at most, this one has {len(text)}")
    left = _hard_part(text, sign_in_name)
    if len(left) < FEWEST_LEFT or len(set(left)) < FEWEST_DIFFERENT:
        raise ClinicError(
            "this passphrase is easy to guess", do="take words that don't repeat, without your name in it"
        )
    return hash_anew(passphrase)


def hash_anew(passphrase: str) -> str:
    """Hash a passphrase that is in use already, whatever the rules are now.

    Parameters
    ----------
    passphrase : str
        As typed.

    Returns
    -------
    str
        What is kept.
    """
    with AT_ONCE:
        return _hasher().hash(_normal(passphrase))


def is_right(passphrase_hash: str, passphrase: str) -> bool:
    """Compare a passphrase with what is kept; takes as long as hashing.

    Parameters
    ----------
    passphrase_hash : str
        What is kept.
    passphrase : str
        As typed.

    Returns
    -------
    bool
        Whether it is the right one.
    """
    # a longer one is nobody's, and would cost more to normalise
    text = _normal(passphrase[: MOST_CHARACTERS + 1])
    try:
        with AT_ONCE:
            return _hasher().verify(passphrase_hash, text)
    except (VerificationError, InvalidHashError):
        return False


def waste_as_long(passphrase: str) -> None:
    """Take as long as comparing a passphrase, where there is none to compare with.

    Parameters
    ----------
    passphrase : str
        As typed.
    """
    is_right(_nobodys_hash(), passphrase)


def is_outdated(passphrase_hash: str) -> bool:
    """Tell whether a passphrase was hashed with other parameters than today's.

    Parameters
    ----------
    passphrase_hash : str
        What is kept.

    Returns
    -------
    bool
        True: hash it anew the next time it is typed.
    """
    return _hasher().check_needs_rehash(passphrase_hash)


@cache
def _nobodys_hash() -> str:
    with AT_ONCE:
        return _hasher().hash(secrets.token_hex())


def _hard_part(text: str, sign_in_name: str) -> str:
    """Leave out of a passphrase what whoever guesses would try first."""
    left = "".join(each for each in text.casefold() if each.isalnum())
    expected = [*EXPECTED, *(part for part in _words(_normal(sign_in_name).casefold()) if len(part) > 2)]
    for word in expected:
        left = left.replace(word, "")
    for row in (*ROWS, *(each[::-1] for each in ROWS)):
        for length in range(len(row), SHORTEST_ROW - 1, -1):
            for start in range(len(row) - length + 1):
                left = left.replace(row[start : start + length], "")
    # what is one piece again and again counts once
    period = (left + left).find(left, 1)
    return left[:period] if period > 0 else left


def _words(name: str) -> list[str]:
    return "".join(each if each.isalnum() else " " for each in name).split()


def _normal(text: str) -> str:
    return unicodedata.normalize("NFKC", text)
