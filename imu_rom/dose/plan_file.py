"""Plan files: TOML to a plan; every error says file, line, column, field, what it must be and what it was."""

import hashlib
import re
import tomllib
from dataclasses import replace
from pathlib import Path
from typing import Any

from imu_rom.dose.check_file import CheckedParts, read_checked_parts
from imu_rom.dose.own_range import with_own_range
from imu_rom.dose.plan import OwnUncertainty, Plan
from imu_rom.dose.plan_checks import plan_faults
from imu_rom.dose.plan_fault import FieldPath, PlanFault
from imu_rom.errors import PlanError

__all__ = ["FORMAT", "plan_from_bytes", "plan_sha256", "read_plan"]

FORMAT = 1

_TOML_PLACE = re.compile(r"^(?P<what>.*?) \((?:at line (?P<line>\d+), column (?P<column>\d+)|at end of document)\)$")


def read_plan(path: Path | str, *, largest_mb: float = 1.0, published: bool = False) -> Plan:
    """Read a plan file.

    Parameters
    ----------
    path : path
        A TOML file in UTF-8.
    largest_mb : float
        A larger file is refused unread (setting ``reading.largest_plan_mb``).
    published : bool
        As for `plan_from_bytes`.

    Returns
    -------
    Plan
        A plan that has its form and does not contradict itself.

    Raises
    ------
    PlanError
        The file can't be read, is no TOML, or says something that a plan can't mean.

    Examples
    --------
    >>> from imu_rom import read_plan
    >>> plan = read_plan("sample_recordings/plans/P-0001.toml")
    >>> plan.tendon_site, [each.name for each in plan.stage.exercises]
    ('achilles insertion', ['heeldrop'])
    """
    path = Path(path)
    return plan_from_bytes(_read(path, largest_mb), str(path), folder=path.parent, published=published)


def plan_sha256(path: Path | str, *, largest_mb: float = 1.0) -> str:
    """Fingerprint of a plan file, for provenance.

    Parameters
    ----------
    path : path
        The file.
    largest_mb : float
        A larger file is refused unread.

    Returns
    -------
    str
        SHA-256 of its bytes, in hexadecimal digits.

    Raises
    ------
    PlanError
        The file can't be read.
    """
    return hashlib.sha256(_read(Path(path), largest_mb)).hexdigest()


def _read(path: Path, largest_mb: float) -> bytes:
    where = str(path)
    try:
        if path.is_dir():
            raise PlanError("must be a plan file, got a folder", where=where, do="name the .toml file in it")
        size = path.stat().st_size
        if size > largest_mb * 1e6:
            raise PlanError(
                f"must be at most {largest_mb:g} MB, got {size / 1e6:.3g} MB",
                where=where,
                do="name a plan file, or raise the setting reading.largest_plan_mb",
            )
        if not path.is_file():
            raise PlanError("must be a plain file, got a device or pipe", where=where)
        return path.read_bytes()
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise PlanError(f"can't be read: {reason}", where=where, do="check the name of the plan file") from None


def plan_from_bytes(data: bytes, name: str, *, folder: Path | None = None, published: bool = False) -> Plan:
    """Turn the bytes of a plan file into a plan.

    Parameters
    ----------
    data : bytes
        The file's content.
    name : str
        What the file is called in errors.
    folder : Path, optional
        Folder of the plan: where the checks lie that it names. None: it may name none.
    published : bool
        True for a published programme, which is nobody's yet: shares of the own range stay without angles there.

    Returns
    -------
    Plan
        A plan that has its form and does not contradict itself.

    Raises
    ------
    PlanError
        As `read_plan`.
    """
    data = data.removeprefix(b"\xef\xbb\xbf")
    tables = _tables(data, name)
    if not tables:
        raise PlanError("must hold a plan, got an empty file", where=name)
    faults = _format_faults(tables)
    if not faults:
        # pydantic takes a while to load, and only reading a plan needs it
        from imu_rom.dose.plan_form import plan_from_mapping  # noqa: PLC0415

        plan = plan_from_mapping(tables)
        if isinstance(plan, Plan):
            plan = with_own_range(plan)
            faults = tuple(plan_faults(plan, published=published))
            if not faults and plan.own_uncertainty is not None:
                own, faults = _with_checks(plan.own_uncertainty, folder)
                plan = replace(plan, own_uncertainty=own)
            if not faults:
                return replace(plan, own_ranges=tuple(sorted(plan.own_ranges, key=lambda each: each.measured_on)))
        else:
            faults = plan
    raise _error(faults, data, name)


def _tables(data: bytes, name: str) -> dict[str, Any]:
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        column = error.start - (data.rfind(b"\n", 0, error.start) + 1) + 1
        raise PlanError(
            "must be TOML text in UTF-8, got bytes that are no such text",
            where=f"{name}:{line}:{column}",
            do="save the plan as plain text in UTF-8",
        ) from None
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        match = _TOML_PLACE.match(str(error))
        lines = text.split("\n")
        line, column, what = len(lines), len(lines[-1]) + 1, str(error)
        if match is not None:
            what = match["what"] if match["line"] else f"{match['what']} (the file ends too early)"
            line, column = int(match["line"] or line), int(match["column"] or column)
        what = f"{what[:1].lower()}{what[1:]}"
        raise PlanError(f"must be valid TOML, got an error: {what}", where=f"{name}:{line}:{column}") from None
    except (ValueError, RecursionError):
        # numbers of thousands of digits, or brackets nested beyond reason
        raise PlanError("must be a plan, got numbers or brackets beyond reason", where=name) from None


def _format_faults(tables: dict[str, Any]) -> tuple[PlanFault, ...]:
    # looked at first: a file of another format would only give misleading errors about its fields
    head = tables.get("plan")
    if isinstance(head, dict) and "format" in head:
        value = head["format"]
        if isinstance(value, bool) or not isinstance(value, int) or value != FORMAT:
            from imu_rom.dose.form_faults import shown  # noqa: PLC0415 - as above

            return (
                PlanFault(("plan", "format"), f"must be {FORMAT}, the only format that is read here", shown(value)),
            )
    return ()


def _with_checks(own: OwnUncertainty, folder: Path | None) -> tuple[OwnUncertainty, tuple[PlanFault, ...]]:
    """Read the checks that a plan names; what it says itself wins over them."""
    read: list[CheckedParts] = []
    for index, named in enumerate(own.named_checks):
        path: FieldPath = ("uncertainty", "from")
        if len(own.named_checks) > 1:
            path = (*path, index)
        if folder is None:
            must = "must be left out where a plan is read without its folder"
            return own, (PlanFault(path, must, repr(named), "write the values themselves into [uncertainty]"),)
        one = read_checked_parts(folder / named)
        if isinstance(one, str):
            return own, (PlanFault(path, "must name the check.json of a check", f"{named!r}, which {one}"),)
        twice = sorted({name for name in one.parts for each in read if name in each.parts} - set(own.parts))
        if twice:
            must = f"must name checks of which only one gives {twice[0]}"
            got = f"{named!r} besides {own.named_checks[0]!r}"
            return own, (PlanFault(path, must, got, f"say {twice[0]} here, or leave one of them out"),)
        read.append(one)
    parts = {name: value for each in read for name, value in each.parts.items()} | own.parts
    sources = {name: each.source for each in read for name in each.parts} | own.sources
    checks = tuple(each.file for each in read)
    return replace(own, parts=parts, sources=sources, checks=checks), ()


def _error(faults: tuple[PlanFault, ...], data: bytes, name: str) -> PlanError:
    # the grammar is loaded only when there is something to point at
    from imu_rom.dose.toml_positions import FieldPlaces  # noqa: PLC0415

    places = FieldPlaces(data)
    (line, column), fault = min(
        ((places.line_and_column(each.path, of_name=each.at_name), each) for each in faults), key=lambda each: each[0]
    )
    field = ".".join(part for part in fault.path if isinstance(part, str))
    more = f" (and {len(faults) - 1} more)" if len(faults) > 1 else ""
    return PlanError(
        f"{fault.must}, got {fault.got}{more}",
        where=f"{name}:{line}:{column}: field {field}",
        do=fault.do,
    )
