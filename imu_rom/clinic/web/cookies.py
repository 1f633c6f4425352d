"""The one cookie: a sign-in's token, which no script can read and which goes to this service alone."""

from starlette.requests import Request
from starlette.responses import Response

__all__ = ["forget", "keep", "token_of"]

# browsers keep a cookie of the first name only over TLS, for this host alone and all of its paths
_SECURE, _PLAIN = "__Host-imu_rom", "imu_rom"


def token_of(request: Request) -> str | None:
    """Give the sign-in's token.

    Parameters
    ----------
    request : Request
        With or without a cookie.

    Returns
    -------
    str or None
        As it was sent; whether it holds is asked of the database.
    """
    return request.cookies.get(_name(secure=request.app.state.secure))


def keep(response: Response, token: str, *, secure: bool) -> None:
    """Have the browser send a token from now on, until it is closed or the sign-in ends.

    Parameters
    ----------
    response : Response
        What is answered.
    token : str
        The sign-in's.
    secure : bool
        Whether the service is reached over TLS.
    """
    response.set_cookie(_name(secure=secure), token, path="/", secure=secure, httponly=True, samesite="lax")


def forget(response: Response, *, secure: bool) -> None:
    """Have the browser forget the token.

    Parameters
    ----------
    response : Response
        What is answered.
    secure : bool
        Whether the service is reached over TLS.
    """
    response.delete_cookie(_name(secure=secure), path="/", secure=secure, httponly=True, samesite="lax")


def _name(*, secure: bool) -> str:
    return _SECURE if secure else _PLAIN
