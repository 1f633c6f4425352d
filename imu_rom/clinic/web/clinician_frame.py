"""What every page about one patient has in common: whose it is, which day it is, moments as clocks show them."""

from dataclasses import dataclass
from datetime import date

from starlette.responses import RedirectResponse

from imu_rom.clinic.local_time import local_day, local_time
from imu_rom.clinic.web.permissions import Permitted

__all__ = ["Frame", "back", "frame", "moment", "today_of", "whole_number"]

_MOST_DIGITS = 9


@dataclass(frozen=True)
class Frame:
    """Head of a page about one patient.

    Parameters
    ----------
    patient_id, label : str
        Whose.
    retired : bool
        True where the patient was put aside.
    part : str
        Which of the patient's pages it is.
    """

    patient_id: str
    label: str
    retired: bool
    part: str


def frame(permitted: Permitted, part: str) -> Frame:
    """Give the head of a page.

    Parameters
    ----------
    permitted : Permitted
        Who reads, and whom it is about.
    part : str
        Which of the patient's pages it is.

    Returns
    -------
    Frame
        For the template.
    """
    person = permitted.person
    return Frame(person.patient_id, person.label, person.retired_at_ms is not None, part)


def today_of(permitted: Permitted) -> date:
    """Tell which day it is at the clinic.

    Parameters
    ----------
    permitted : Permitted
        Who asks.

    Returns
    -------
    date
        There.
    """
    return local_day(permitted.now_ms, _zone(permitted))


def moment(permitted: Permitted, at_ms: int) -> str:
    """Write a moment as the clinic's clocks show it.

    Parameters
    ----------
    permitted : Permitted
        Who reads.
    at_ms : int
        Milliseconds since 1970 UTC.

    Returns
    -------
    str
        Such as ``2026-12-01 09:30``.
    """
    return f"{local_time(at_ms, _zone(permitted)):%Y-%m-%d %H:%M}"


def _zone(permitted: Permitted) -> str:
    return "UTC" if permitted.clinic is None else permitted.clinic.time_zone


def back(path: str, told: str) -> RedirectResponse:
    """Lead to a page that says what was just done.

    Parameters
    ----------
    path : str
        Its address.
    told : str
        A word of `imu_rom.wording.clinic_list_text.told_words`.

    Returns
    -------
    RedirectResponse
        So that reloading sends nothing twice.
    """
    return RedirectResponse(f"{path}?told={told}", status_code=303)


def whole_number(text: str) -> int | None:
    """Read a number that a form or an address holds.

    Parameters
    ----------
    text : str
        As it came.

    Returns
    -------
    int or None
        None for anything but a few plain digits.
    """
    return int(text) if text.isascii() and text.isdigit() and len(text) <= _MOST_DIGITS else None
