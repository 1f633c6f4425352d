"""What the owner of a clinic's service reads at the command line."""

from collections.abc import Sequence

__all__ = [
    "CLINICIAN_HEADINGS",
    "about_clinic",
    "clinician_cells",
    "closed_account",
    "invited",
    "kept_in",
    "no_clinics",
    "patient_numbers",
    "room_words",
]

CLINICIAN_HEADINGS = ("signs in as", "passphrase", "second factor", "account")


def about_clinic(name: str, phone: str | None, time_zone: str, retention_days: int | None) -> list[str]:
    """Say what is kept of a clinic.

    Parameters
    ----------
    name : str
        Its name.
    phone : str or None
        Its number.
    time_zone : str
        Where it is.
    retention_days : int or None
        How long data must be kept.

    Returns
    -------
    list of str
        Sentences; one more where nobody can be invited yet.
    """
    kept = "Everything is kept" if retention_days is None else f"Data are kept for {retention_days} days at least"
    lines = [f"{name}, in the time zone {time_zone}. {kept}."]
    if phone is None:
        lines.append("The phone number is missing: nobody is invited before imu-rom clinic init --phone gives it.")
    else:
        lines.append(f"Patients are told to call {phone}.")
    return lines


def invited(sign_in_name: str, link: str, hours: int, *, joins: bool) -> list[str]:
    """Say what to do with an invitation.

    Parameters
    ----------
    sign_in_name : str
        Under which name the person signs in.
    link : str
        What opens it.
    hours : int
        For how long.
    joins : bool
        False for a new passphrase.

    Returns
    -------
    list of str
        Sentences, the link on a line of its own.
    """
    what = "join" if joins else "set a new passphrase"
    return [
        f"{sign_in_name} can {what} by this link, once, within {hours} hours:",
        link,
        "Whoever has it can do so: hand it over in a way that only this person reads. It is shown only here.",
    ]


def kept_in(home: str) -> str:
    """Say where everything is.

    Parameters
    ----------
    home : str
        The home folder.

    Returns
    -------
    str
        A sentence.
    """
    return f"All that is kept on this machine is in {home}."


def closed_account(sign_in_name: str, *, reopened: bool) -> str:
    """Say what became of an account.

    Parameters
    ----------
    sign_in_name : str
        Whose.
    reopened : bool
        Whether it is open again.

    Returns
    -------
    str
        A sentence.
    """
    return f"{sign_in_name} can sign in again." if reopened else f"{sign_in_name} is signed out and can't sign in."


def patient_numbers(active: int, retired: int, asked: int) -> str:
    """Say how many patients a clinic has.

    Parameters
    ----------
    active, retired : int
        In the list, and put aside.
    asked : int
        Of all of them, how many asked for deletion.

    Returns
    -------
    str
        A sentence.
    """
    count = "1 patient" if active == 1 else f"{active} patients"
    more = [f"{retired} put aside"] * (retired > 0) + [f"{asked} asked for deletion"] * (asked > 0)
    return ", ".join([count, *more]) + "."


def room_words(taken_bytes: Sequence[int], room_bytes: int) -> str:
    """Say how much room recordings take.

    Parameters
    ----------
    taken_bytes : sequence of int
        By each patient who sent any, the most first.
    room_bytes : int
        What one patient has.

    Returns
    -------
    str
        A sentence; nobody is named.
    """
    all_of_it, most, room = (f"{each / 1e6:.1f} MB" for each in (sum(taken_bytes), taken_bytes[0], room_bytes))
    return f"Recordings take {all_of_it}; whoever has most has {most} of {room}."


def clinician_cells(sign_in_name: str, *, joined: bool, second_factor: bool, active: bool) -> tuple[str, ...]:
    """Say a clinician's line of the list.

    Parameters
    ----------
    sign_in_name : str
        The name.
    joined, second_factor, active : bool
        Whether a passphrase is set, a code is asked for, and the account is open.

    Returns
    -------
    tuple of str
        Cells below `CLINICIAN_HEADINGS`.
    """
    return (
        sign_in_name,
        "set" if joined else "not yet",
        "yes" if second_factor else "no",
        "open" if active else "closed",
    )


def no_clinics() -> str:
    """Say that there is nothing yet.

    Returns
    -------
    str
        A sentence.
    """
    return "There is no clinic yet; imu-rom clinic init makes one."
