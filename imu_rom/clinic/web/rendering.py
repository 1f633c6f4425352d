"""From a page's content, a frozen dataclass, to its text; everything that is not ours is escaped."""

import hashlib
import re
from dataclasses import dataclass, fields
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from jinja2 import ChoiceLoader, Environment, FileSystemLoader, StrictUndefined
from starlette.requests import Request
from starlette.responses import HTMLResponse

import imu_rom.report
from imu_rom.clinic.web.guards import NONCE, report_policy
from imu_rom.wording.language import Speech
from imu_rom.wording.patient_site import site_words

if TYPE_CHECKING:
    from _typeshed import DataclassInstance

    from imu_rom.clinic.web.permissions import Permitted

__all__ = ["Site", "filled_part", "page_response", "plain_response", "report_response", "static_address", "static_file"]

_HERE = Path(__file__).parent
_STATIC = {
    "clinician.css": "text/css",
    "style.css": "text/css",
    "upload.js": "text/javascript",
    "waiting.js": "text/javascript",
}


@dataclass(frozen=True)
class Site:
    """What stands around every page.

    Parameters
    ----------
    language : str
        Its code.
    role : {"nobody", "patient", "clinician"}
        Who reads.
    clinic_name, clinic_phone : str or None
        Whom to call.
    here : str
        Path of the page.
    nonce : str
        For scripts of ours.
    words : dict of str to str
        Names of the main pages and the footer's sentences.
    """

    language: str
    role: str
    clinic_name: str | None
    clinic_phone: str | None
    here: str
    nonce: str
    words: dict[str, str]


@cache
def _environment() -> Environment:
    reports = Path(imu_rom.report.__file__).parent / "templates"
    environment = Environment(
        # a page may take parts of the reports' templates
        loader=ChoiceLoader([FileSystemLoader(_HERE / "templates"), FileSystemLoader(reports)]),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.globals["static"] = static_address
    environment.filters["telephone"] = _telephone
    return environment


def _telephone(number: str) -> str:
    """Write a telephone number for a link: digits and a leading plus (RFC 3966)."""
    return re.sub(r"(?!^\+)[^0-9]", "", number.strip().replace("(0)", ""))


@cache
def static_file(name: str) -> tuple[bytes, str] | None:
    """Read a style or a script of ours.

    Parameters
    ----------
    name : str
        Its file name.

    Returns
    -------
    tuple of bytes and str or None
        Content and kind; None where there is no such file.
    """
    if name not in _STATIC:
        return None
    return (_HERE / "static" / name).read_bytes(), _STATIC[name]


@cache
def static_address(name: str) -> str:
    """Give the address of a style or a script, which changes with its content, so that it can be kept by browsers.

    Parameters
    ----------
    name : str
        Its file name.

    Returns
    -------
    str
        Its path.
    """
    found = static_file(name)
    if found is None:
        raise ValueError(name)
    return f"/static/{name}?v={hashlib.sha256(found[0]).hexdigest()[:12]}"


def page_response(
    request: Request, permitted: "Permitted", template: str, content: "DataclassInstance", status: int = 200
) -> HTMLResponse:
    """Answer with a page.

    Parameters
    ----------
    request : Request
        What was asked for.
    permitted : Permitted
        Who reads it.
    template : str
        File in the folder of templates; it extends ``base.html``.
    content : dataclass
        What it shows: each field is a name in the template, and a name that is missing is an error.
    status : int
        Of the answer.

    Returns
    -------
    HTMLResponse
        The page.
    """
    role = "nobody" if permitted.account is None else permitted.account.role
    site = Site(
        language=permitted.to.language,
        role=role,
        clinic_name=None if permitted.clinic is None else permitted.clinic.name,
        clinic_phone=None if permitted.clinic is None else permitted.clinic.phone,
        here=request.url.path,
        nonce=request.scope["state"][NONCE],
        words=site_words(permitted.to),
    )
    return HTMLResponse(_filled(template, site, content), status)


def plain_response(
    request: Request, to: Speech, template: str, content: "DataclassInstance", status: int
) -> HTMLResponse:
    """Answer with a page where nobody is known to be there: what was asked for isn't, or something broke.

    Parameters
    ----------
    request : Request
        What was asked for.
    to : Speech
        The reader's language.
    template : str
        File in the folder of templates.
    content : dataclass
        What it shows.
    status : int
        Of the answer.

    Returns
    -------
    HTMLResponse
        The page.
    """
    site = Site(to.language, "nobody", None, None, request.url.path, request.scope["state"][NONCE], site_words(to))
    return HTMLResponse(_filled(template, site, content), status)


def _filled(template: str, site: Site, content: "DataclassInstance") -> str:
    values: dict[str, Any] = {each.name: getattr(content, each.name) for each in fields(content)}
    return _environment().get_template(template).render(site=site, **values)


def filled_part(template: str, content: "DataclassInstance") -> str:
    """Fill a part that goes into a page which stands by itself.

    Parameters
    ----------
    template : str
        File in the folder of templates.
    content : dataclass
        What it shows.

    Returns
    -------
    str
        HTML.
    """
    values: dict[str, Any] = {each.name: getattr(content, each.name) for each in fields(content)}
    return _environment().get_template(template).render(**values)


def report_response(page: bytes | str) -> HTMLResponse:
    """Answer with a report of the library, which stands by itself: its own style, its own scripts and no others.

    Parameters
    ----------
    page : bytes or str
        The report.

    Returns
    -------
    HTMLResponse
        The page, with a policy that lets its scripts run and nothing else.
    """
    text = page.decode() if isinstance(page, bytes) else page
    return HTMLResponse(text, headers={"content-security-policy": report_policy(text)})
