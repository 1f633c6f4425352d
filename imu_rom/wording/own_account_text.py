"""What clinicians are told about their own account."""

__all__ = ["refused_words", "wrong_code"]


def refused_words(why: str) -> str:
    """Say why a passphrase was not taken.

    Parameters
    ----------
    why : {"wrong", "too often"}
        Of `sign_ins.Refusal`.

    Returns
    -------
    str
        A sentence.
    """
    if why == "wrong":
        return "This is not your passphrase."
    return "That was tried too often. Wait a quarter of an hour, then try again."


def wrong_code() -> str:
    """Say that a code was not taken.

    Returns
    -------
    str
        A sentence.
    """
    return "This code is not right. Take the one that the app shows now; your phone's clock must be right."
