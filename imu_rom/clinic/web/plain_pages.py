"""The first page, style and scripts, and whether the service is well."""

from starlette.requests import Request
from starlette.responses import PlainTextResponse, RedirectResponse, Response

from imu_rom.clinic.web.permissions import Permitted
from imu_rom.clinic.web.rendering import static_file
from imu_rom.clinic.web.routes import page
from imu_rom.clinic.web.trouble import trouble_page

__all__ = ["FIRST_PAGES"]

FIRST_PAGES = {"patient": "/today", "clinician": "/patients"}
"""Where each goes after signing in."""


@page("/", who="anyone")
def first(request: Request, permitted: Permitted) -> Response:
    """Lead everybody to their own first page."""
    del request
    role = None if permitted.account is None else permitted.account.role
    return RedirectResponse(FIRST_PAGES.get(role or "", "/sign-in"), status_code=303)


@page("/static/{name}", who="anyone", plain=("name",))
def static(request: Request, permitted: Permitted) -> Response:
    """Give style and scripts; their address changes with their content."""
    del permitted
    found = static_file(request.path_params["name"])
    if found is None:
        return trouble_page(request, "missing", 404)
    content, kind = found
    return Response(content, media_type=kind, headers={"cache-control": "public, max-age=31536000, immutable"})


@page("/health", who="anyone")
def health(request: Request, permitted: Permitted) -> Response:
    """Say that the service answers and its database does."""
    del request
    with permitted.service.database.reading() as connection:
        connection.exec_driver_sql("SELECT 1")
    return PlainTextResponse("ok\n")
