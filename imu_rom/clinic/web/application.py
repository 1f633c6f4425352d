"""The application: every page behind the guards."""

import importlib

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response
from starlette.types import ASGIApp

from imu_rom.clinic.service import Service
from imu_rom.clinic.web.guards import Guards
from imu_rom.clinic.web.logs import Logged
from imu_rom.clinic.web.routes import routes
from imu_rom.clinic.web.trouble import trouble_page

__all__ = ["PAGES", "create_application"]

PAGES = (
    # modules below ``web`` whose pages there are, one a line
    "plain_pages",
    "sign_in_pages",
    "invitation_pages",
    "consent_pages",
    "clinician_own_pages",
    "clinician_list_pages",
    "clinician_account_pages",
    "clinician_patient_pages",
    "clinician_session_pages",
    "decision_pages",
    "plan_pages",
    "file_reading_pages",
    "clinician_history_pages",
    "week_pages",
    "today_pages",
    "sending_pages",
    "diary_pages",
    "answer_pages",
    "history_pages",
    "data_pages",
)


def create_application(service: Service) -> ASGIApp:
    """Make the application.

    Parameters
    ----------
    service : Service
        What everything is kept in.

    Returns
    -------
    ASGIApp
        For a server.
    """
    for name in PAGES:
        importlib.import_module(f"imu_rom.clinic.web.{name}")
    configuration = service.configuration
    application = Starlette(routes=routes(), exception_handlers={HTTPException: _answered})
    application.state.service = service
    application.state.secure = configuration.behind_tls
    # outside of the framework's own error pages, so that these have our headers too
    guarded = Guards(
        application,
        public_url=configuration.public_url,
        largest_upload_bytes=configuration.limits.upload_mib * 1024 * 1024,
    )
    return Logged(guarded)


def _answered(request: Request, error: Exception) -> Response:
    status = error.status_code if isinstance(error, HTTPException) else 404
    return trouble_page(request, "missing" if status in {404, 405} else "refused", status)
