"""What stands before every page: whose request it is, how large it may be, and what browsers may do with the answer."""

import base64
import hashlib
import re
import secrets
from collections.abc import Iterable
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

__all__ = ["NONCE", "Guards", "TooLargeError", "limited", "page_policy", "report_policy"]

NONCE = "nonce"
READING = frozenset({"GET", "HEAD", "OPTIONS"})
HSTS_S = 365 * 24 * 3600

_FIXED = {
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    # not no-referrer, by which browsers send Origin: null with our own forms
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), geolocation=(), microphone=(), payment=(), usb=()",
}
_SCRIPT = re.compile(r"<script(?P<attributes>[^>]*)>(?P<content>.*?)</script>", re.DOTALL)


class TooLargeError(Exception):
    """More was sent than the page takes; nothing of it is kept."""


def page_policy(nonce: str) -> str:
    """Say what a browser may do with a page of ours.

    Parameters
    ----------
    nonce : str
        Of this one answer; scripts carry it.

    Returns
    -------
    str
        Value of ``Content-Security-Policy``.
    """
    return (
        f"default-src 'none'; style-src 'self'; img-src 'self' data:; script-src 'nonce-{nonce}'; connect-src 'self'; "
        "form-action 'self'; frame-ancestors 'none'; base-uri 'none'"
    )


def report_policy(page: str, nonce: str | None = None) -> str:
    """Say what a browser may do with a report, whose style stands in it and whose scripts are those and no others.

    Parameters
    ----------
    page : str
        The report's text.
    nonce : str, optional
        Of this one answer, where scripts of ours stand in it too.

    Returns
    -------
    str
        Value of ``Content-Security-Policy``, with the hash of each script that stands in the page.
    """
    hashes = [
        f"'sha256-{base64.b64encode(hashlib.sha256(each['content'].encode()).digest()).decode()}'"
        for each in _SCRIPT.finditer(page)
        if " src" not in each["attributes"]
    ]
    if nonce is not None:
        hashes.append(f"'nonce-{nonce}'")
    # plotly writes style into the page, and shows its pictures from memory
    return (
        f"default-src 'none'; style-src 'unsafe-inline' 'self'; img-src 'self' data: blob:; "
        f"script-src {' '.join(dict.fromkeys(hashes)) or chr(39) + 'none' + chr(39)}; connect-src 'self'; "
        "form-action 'self'; frame-ancestors 'none'; base-uri 'none'"
    )


class Guards:
    """The middleware before all routes.

    Parameters
    ----------
    application : ASGIApp
        What stands behind.
    public_url : str
        Where people reach the service; its host is the only one that is answered to, besides this machine's own names.
    largest_upload_bytes : int
        Largest body of a request with files, in bytes; a page with files names it for itself.
    """

    def __init__(self, application: ASGIApp, *, public_url: str, largest_upload_bytes: int) -> None:
        self.application = application
        own = urlsplit(public_url)
        self.secure = own.scheme == "https"
        self.origin = f"{own.scheme}://{own.netloc}".lower()
        self.hosts = frozenset({own.netloc.lower()})
        self.largest_upload_bytes = largest_upload_bytes

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request through, or answer it here."""
        if scope["type"] != "http":
            await self.application(scope, receive, send)
            return
        headers = Headers(scope=scope)
        nonce = secrets.token_urlsafe(18)
        scope.setdefault("state", {})[NONCE] = nonce
        guarded = _guarded(send, nonce, secure=self.secure)
        refused = self._refusal(scope["method"], headers)
        if refused is not None:
            await refused(scope, receive, guarded)
            return
        await self.application(scope, _bounded(receive, self.largest_upload_bytes), guarded)

    def _refusal(self, method: str, headers: Headers) -> PlainTextResponse | None:
        host = headers.get("host", "").lower()
        if host not in self.hosts and not (not self.secure and _is_this_machine(host)):
            return PlainTextResponse("There is nothing at this address.\n", status_code=421)
        if method not in READING and not self._is_from_here(headers, host):
            return PlainTextResponse(
                "This was not sent from a page of this service, so nothing was changed. Go back and try again.\n",
                status_code=403,
            )
        announced = headers.get("content-length", "0")
        if not announced.isdecimal() or int(announced) > self.largest_upload_bytes:
            return PlainTextResponse("This is larger than may be sent, so nothing of it was kept.\n", status_code=413)
        return None

    def _is_from_here(self, headers: Headers, host: str) -> bool:
        """Tell whether a page of ours sent it: both signs must say so, and at least one must be there."""
        site, origin = headers.get("sec-fetch-site"), headers.get("origin")
        if site is None and origin is None:
            return False
        if site is not None and site != "same-origin":
            return False
        own = {self.origin} if self.secure else {self.origin, f"http://{host}"}
        return origin is None or origin.lower() in own


def _is_this_machine(host: str) -> bool:
    return re.fullmatch(r"(localhost|127\.0\.0\.1|\[::1\])(:\d+)?", host) is not None


def _bounded(receive: Receive, largest: int) -> Receive:
    """Count what comes in, whatever was announced."""
    seen = 0

    async def counted() -> Message:
        nonlocal seen
        message = await receive()
        if message["type"] == "http.request":
            seen += len(message.get("body", b""))
            if seen > largest:
                raise TooLargeError
        return message

    return counted


def limited(receive: Receive, headers: Iterable[tuple[bytes, bytes]], largest: int) -> Receive:
    """Hold a request's body to a page's own limit.

    Parameters
    ----------
    receive : Receive
        Where the body comes from.
    headers : iterable of tuple of bytes
        The request's.
    largest : int
        In bytes.

    Returns
    -------
    Receive
        The same; raises `TooLargeError` beyond.

    Raises
    ------
    TooLargeError
        More than that is announced.
    """
    announced = next((value for name, value in headers if name == b"content-length"), b"0")
    if announced.isdigit() and int(announced) > largest:
        raise TooLargeError
    return _bounded(receive, largest)


def _guarded(send: Send, nonce: str, *, secure: bool) -> Send:
    async def with_headers(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in _FIXED.items():
                headers[name] = value
            headers.setdefault("content-security-policy", page_policy(nonce))
            headers.setdefault("cache-control", "no-store")
            if secure:
                headers["strict-transport-security"] = f"max-age={HSTS_S}; includeSubDomains"
        await send(message)

    return with_headers
