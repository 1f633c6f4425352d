"""Reports as they are kept, shown inside the service with a bar above that leads back."""

import base64
import hashlib
from functools import cache

from starlette.responses import Response

from imu_rom.clinic.kept_pages import whole_page
from imu_rom.clinic.web.guards import report_policy
from imu_rom.report.charted import SCRIPT_GOES_HERE, plotting_script

__all__ = ["kept_report"]

_MAIN = b"<main"


def kept_report(kept: bytes, bar: str, nonce: str | None = None) -> Response:
    """Answer with a report.

    Parameters
    ----------
    kept : bytes
        The page without its plotting script.
    bar : str
        HTML that stands above what it says.
    nonce : str, optional
        Of this one answer, where the bar holds a script.

    Returns
    -------
    Response
        The page, with a policy that lets its own scripts run and nothing else.
    """
    # the plotting script is megabytes long and always the same, so its hash is worked out once
    policy = report_policy(kept.decode(), nonce).replace(_hash(SCRIPT_GOES_HERE.encode()), _plotting_hash())
    head, main, tail = whole_page(kept).partition(_MAIN)
    return Response(
        b"".join((head, bar.encode(), main, tail)),
        media_type="text/html",
        headers={"content-security-policy": policy},
    )


def _hash(script: bytes) -> str:
    return f"'sha256-{base64.b64encode(hashlib.sha256(script).digest()).decode()}'"


@cache
def _plotting_hash() -> str:
    return _hash(plotting_script())
