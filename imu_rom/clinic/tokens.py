"""Tokens that open something: handed out once, kept as a hash only."""

import hashlib
import secrets

__all__ = ["TOKEN_BYTES", "new_token", "token_hash"]

TOKEN_BYTES = 32
"""256 bits: guessing one takes longer than any limit matters, so a plain hash is enough to keep it by."""
LONGEST = 100


def new_token() -> str:
    """Make a token.

    Returns
    -------
    str
        256 random bits in letters, digits, ``-`` and ``_``.
    """
    return secrets.token_urlsafe(TOKEN_BYTES)


def token_hash(token: str) -> str:
    """Hash a token; looking it up by its hash tells nothing by the time it takes.

    Parameters
    ----------
    token : str
        As it came; whatever it is.

    Returns
    -------
    str
        SHA-256 in hexadecimal digits.
    """
    return hashlib.sha256(token[:LONGEST].encode("utf-8", "replace")).hexdigest()
