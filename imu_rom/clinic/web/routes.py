"""Who may open what: the one way to make a page, so that none can be made without saying who may open it."""

import errno
from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import asynccontextmanager
from dataclasses import dataclass
from typing import Literal
from urllib.parse import quote

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData
from starlette.exceptions import HTTPException
from starlette.requests import ClientDisconnect, Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from imu_rom.clinic.configuration import Limits
from imu_rom.clinic.log_lines import log_line
from imu_rom.clinic.service import Service
from imu_rom.clinic.sign_ins import keep_alive
from imu_rom.clinic.web.cookies import token_of
from imu_rom.clinic.web.guards import TooLargeError, limited
from imu_rom.clinic.web.permissions import OBJECTS, Permitted, Refused, permit
from imu_rom.clinic.web.trouble import error_page, trouble_page
from imu_rom.errors import ImuRomError

__all__ = ["ROUTES", "PageRoute", "Who", "page", "routes"]

Who = Literal["anyone", "signed in", "patient", "patient without consent", "clinician"]
Handler = Callable[[Request, Permitted], Response]
Before = Callable[[Request, Permitted], Response | None]
MOST_FIELDS = 200


@dataclass(frozen=True)
class PageRoute:
    """One page.

    Parameters
    ----------
    path : str
        Its address, with names in braces where ids stand.
    method : {"GET", "POST"}
        How it is asked for.
    who : str
        Who may open it. ``"patient"`` is one whose consent stands.
    handler : callable
        From the request and what was permitted to the answer; runs in a thread of its own.
    files : bool
        Whether files may be sent, within the service's limits.
    plain : tuple of str
        Names in the path that are no object's id.
    before : callable or None
        Asked before anything that was sent is read; its answer, if it has one, is the page's.
    """

    path: str
    method: Literal["GET", "POST"]
    who: Who
    handler: Handler
    files: bool
    plain: tuple[str, ...]
    before: Before | None = None


ROUTES: list[PageRoute] = []
"""Every page that there is, in the order in which they were made."""


def page(
    path: str,
    *,
    who: Who,
    method: Literal["GET", "POST"] = "GET",
    files: bool = False,
    plain: tuple[str, ...] = (),
    before: Before | None = None,
) -> Callable[[Handler], Handler]:
    """Make a function a page.

    Every name in braces in the path must be the id of an object that has an owner (`permissions.OBJECTS`), and is
    checked to be the visitor's before the function is called; somebody else's is as if it weren't there.

    Parameters
    ----------
    path : str
        Its address, such as ``"/patients/{patient_id}/plan"``.
    who : str
        Who may open it: ``"anyone"``, ``"signed in"``, ``"patient"`` (whose consent stands), ``"patient without
        consent"`` (whether it stands or not), ``"clinician"``.
    method : {"GET", "POST"}
        How it is asked for.
    files : bool
        Whether files may be sent with it.
    plain : tuple of str
        Names in braces that are no object's id, such as a file's name out of a closed list.
    before : callable, optional
        Asked after permission and before what was sent is read; None from it goes on.

    Returns
    -------
    callable
        Puts the function into `ROUTES` and gives it back.
    """
    names = {each.split("}")[0].split(":")[0] for each in path.split("{")[1:]}
    unknown = names - set(OBJECTS) - set(plain)
    if unknown or (who == "anyone" and names - set(plain)):
        raise ValueError(f"{path}: {', '.join(sorted(unknown))} has no owner in permissions.OBJECTS")

    def made(handler: Handler) -> Handler:
        ROUTES.append(PageRoute(path, method, who, handler, files, plain, before))
        return handler

    return made


def routes() -> list[Route]:
    """Give the routes of all pages.

    Returns
    -------
    list of Route
        For `starlette.applications.Starlette`.
    """
    return [Route(each.path, _endpoint(each), methods=[each.method]) for each in ROUTES]


def _endpoint(made: PageRoute) -> Callable[[Request], Awaitable[Response]]:
    async def endpoint(request: Request) -> Response:
        request.state.route = made.path
        try:
            return await _answer(request, made)
        except HTTPException:
            raise
        except Exception as error:  # noqa: BLE001 - whatever it is, the visitor gets a page and the log its place
            return _failure(request, made.path, error)

    return endpoint


async def _answer(request: Request, made: PageRoute) -> Response:
    service = request.app.state.service
    ids = {name: value for name, value in request.path_params.items() if name not in made.plain}
    if made.method != "POST":
        return await run_in_threadpool(_read, request, made, service, ids)
    permitted = await run_in_threadpool(_let_in, request, made, service, ids)
    if isinstance(permitted, Response):
        return permitted
    async with _form(request, made, service.configuration.limits) as form:
        return await run_in_threadpool(made.handler, request, permitted.with_form(form))


def _read(request: Request, made: PageRoute, service: Service, ids: dict[str, str]) -> Response:
    """Answer who sends nothing, in one go: a way into another thread takes as long as what is asked there."""
    permitted = _let_in(request, made, service, ids)
    return permitted if isinstance(permitted, Response) else made.handler(request, permitted.with_form(FormData()))


def _let_in(request: Request, made: PageRoute, service: Service, ids: dict[str, str]) -> Permitted | Response:
    """Ask for permission first, before anything that was sent is read; an answer is the page's."""
    permitted = permit(service, token_of(request), made.who, ids, _languages(request))
    if isinstance(permitted, Refused):
        return _refusal(request, permitted)
    if permitted.token is not None and permitted.account is not None:
        request.state.account_id = permitted.account.user_id
        keep_alive(service, permitted.token)
    refused = None if made.before is None else made.before(request, permitted)
    return permitted if refused is None else refused


def _failure(request: Request, route: str, error: Exception) -> Response:
    """Say what went wrong; what a visitor can mend is no failure of ours, and is not logged."""
    if isinstance(error, ClientDisconnect):
        # nothing of a form that was cut off in the middle is kept, and nobody is there to be told
        log_line("cut off", route=route)
        return Response(status_code=400)
    if isinstance(error, TooLargeError):
        return trouble_page(request, "too large", 413)
    if isinstance(error, ImuRomError):
        return error_page(request, error)
    _log_broken(error, route)
    if isinstance(error, OSError) and error.errno in {errno.ENOSPC, errno.EDQUOT}:
        return trouble_page(request, "full", 507)
    return trouble_page(request, "broken", 500)


@asynccontextmanager
async def _form(request: Request, made: PageRoute, limits: Limits) -> AsyncIterator[FormData]:
    """Read what was sent, within the page's limits."""
    largest = limits.upload_mib * 1024 * 1024 if made.files else limits.form_kib * 1024
    bounded = Request(request.scope, limited(request.receive, request.scope["headers"], largest))
    async with bounded.form(
        max_files=limits.upload_files if made.files else 0,
        max_fields=MOST_FIELDS,
        max_part_size=limits.form_kib * 1024,
    ) as form:
        yield form


def _log_broken(error: Exception, route: str) -> None:
    # the kind of error and its place alone: its words may hold what somebody wrote
    place = error.__traceback__
    while place is not None and place.tb_next is not None:
        place = place.tb_next
    where = None if place is None else f"{place.tb_frame.f_globals.get('__name__')}:{place.tb_lineno}"
    log_line("broken", kind=type(error).__name__, where=where, route=route)


def _refusal(request: Request, refused: Refused) -> Response:
    if refused.go_to is None:
        return trouble_page(request, "missing", 404)
    back = ""
    if request.method == "GET" and refused.come_back:
        back = f"?next={quote(request.url.path, safe='')}"
    return RedirectResponse(f"{refused.go_to}{back}", status_code=303)


def _languages(request: Request) -> str:
    return request.query_params.get("language") or request.headers.get("accept-language", "")
