"""``angle.csv``: the joint angle over time beside a ``result.json``, read back; writing is in tables."""

import csv
import os
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from imu_rom.errors import ResultError
from imu_rom.exchange.document import ResultDocument
from imu_rom.exchange.tables import ANGLE_COLUMNS, EXERCISE_COLUMNS
from imu_rom.session.result import AngleTrace

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["AngleFile", "read_angle_file"]

NUMBERS = ANGLE_COLUMNS[:4]
PHASE = ANGLE_COLUMNS[4]
LARGEST_ANGLE_FILE_MB = 2048
AGAIN = "analyse the recording again"


@dataclass(frozen=True)
class AngleFile:
    """The joint angle over time, and whose it is.

    Parameters
    ----------
    trace : AngleTrace
        As it was written: seconds to 4 decimals, degrees to 3. NaN where a cell is empty.
    part : ndarray of int of shape (n,)
        Which exercise of the result each sample belongs to, from 0.
    """

    trace: AngleTrace
    part: NDArray[np.int16]


def read_angle_file(path: Path, document: ResultDocument) -> AngleFile:
    """Read the ``angle.csv`` of a result.

    Parameters
    ----------
    path : Path
        The file.
    document : ResultDocument
        The result that it lies beside.

    Returns
    -------
    AngleFile
        As many samples as the recording had.

    Raises
    ------
    ResultError
        It can't be read, has other columns, a cell is no number, or it is of another recording.
    """
    where = str(path)
    names = _heading(path)
    several = len(document.exercises) > 1
    # whoever wants no phases leaves that column out
    full = (*ANGLE_COLUMNS, *EXERCISE_COLUMNS) if several else ANGLE_COLUMNS
    if names != full and (several or names != NUMBERS):
        must = ",".join(full)
        raise ResultError(f"must have the columns {must}, got {','.join(names):.200}", where=f"{where}:1", do=AGAIN)
    table = _table(path, names)
    time_s, angle_deg, u_deg, u_zero_deg = (np.array(table[name], dtype=np.float64) for name in NUMBERS)
    if len(time_s) != document.recording.samples:
        raise ResultError(
            f"must have {document.recording.samples} samples as the result.json beside it, got {len(time_s)}",
            where=where,
            do=AGAIN,
        )
    if np.isnan(time_s).any() or (np.diff(time_s) <= 0).any():
        raise ResultError("must have rising times", where=where, do=AGAIN)
    if PHASE in names:
        phases = table[PHASE].cat
        phase, phase_names = np.array(phases.codes, dtype=np.int16), tuple(str(each) for each in phases.categories)
    else:
        phase, phase_names = np.zeros(len(time_s), dtype=np.int16), ("",)
    part = _parts(table, document, where) if several else np.zeros(len(time_s), dtype=np.int16)
    for each in (time_s, angle_deg, u_deg, u_zero_deg, phase, part):
        each.flags.writeable = False
    return AngleFile(AngleTrace(time_s, angle_deg, u_deg, u_zero_deg, phase, phase_names), part)


def _unreadable(path: Path, error: OSError) -> ResultError:
    return ResultError(f"can't be read: {(error.strerror or str(error)).lower()}", where=str(path))


def _heading(path: Path) -> tuple[str, ...]:
    try:
        size_mb = path.stat().st_size / 1e6
        if size_mb > LARGEST_ANGLE_FILE_MB:
            raise ResultError(f"must have at most {LARGEST_ANGLE_FILE_MB} MB, got {size_mb:.0f} MB", where=str(path))
        with path.open("rb") as file:
            line = file.readline(4096)
    except OSError as error:
        raise _unreadable(path, error) from error
    return tuple(line.decode("utf-8", errors="replace").rstrip("\r\n").split(","))


def _table(path: Path, names: tuple[str, ...]) -> "pd.DataFrame":
    import pandas as pd  # noqa: PLC0415  not needed by whoever only writes

    words = [name for name in names if name not in NUMBERS]
    kinds = {name: np.dtype(np.float64) for name in NUMBERS} | dict.fromkeys(words, "category")
    try:
        # an exercise may be called "NA", and an empty phase is a phase
        table = pd.read_csv(
            path,
            dtype=kinds,
            keep_default_na=False,
            na_values={name: [""] for name in NUMBERS},
            encoding="utf-8",
            index_col=False,
        )
        last = table[names[-1]]
        short = last.isna().any() if names[-1] in NUMBERS else "" in last.cat.categories
        # the parser fills up a line that is too short, and takes one that was cut off within a number
        if short or not _ends_whole(path):
            fault = _fault(path, names)
            if fault is not None:
                raise fault
    except OSError as error:
        raise _unreadable(path, error) from error
    except (ValueError, OverflowError):
        damaged = ResultError("is damaged or no comma-separated text", where=str(path), do=AGAIN)
        raise _fault(path, names) or damaged from None
    return table


def _ends_whole(path: Path) -> bool:
    with path.open("rb") as file:
        file.seek(-1, os.SEEK_END)
        return file.read(1) == b"\n"


def _fault(path: Path, names: tuple[str, ...]) -> ResultError | None:
    """Look for the first line that is at fault."""
    if not _ends_whole(path):
        return ResultError("is cut off: its last line has no end", where=str(path), do=AGAIN)
    try:
        with path.open(encoding="utf-8", newline="") as file:
            rows = csv.reader(file, strict=True)
            for row in rows:
                where = f"{path}:{rows.line_num}"
                if len(row) != len(names):
                    return ResultError(f"must have {len(names)} cells, got {len(row)}", where=where, do=AGAIN)
                for column, cell in enumerate(row[: len(NUMBERS)] if rows.line_num > 1 else (), start=1):
                    if cell and not _is_number(cell):
                        return ResultError(f"must be a number, got {cell!r:.40}", where=f"{where}:{column}", do=AGAIN)
    except (UnicodeDecodeError, csv.Error):
        return ResultError("is damaged or no comma-separated text", where=str(path), do=AGAIN)
    return None


def _is_number(cell: str) -> bool:
    try:
        float(cell)
    except ValueError:
        return False
    return True


def _parts(table: "pd.DataFrame", document: ResultDocument, where: str) -> NDArray[np.int16]:
    """Tell by name and side which exercise each sample belongs to."""
    numbers: dict[tuple[str, str], int] = {
        (each.exercise.name, each.exercise.side): index for index, each in enumerate(document.exercises)
    }
    exercise, side = (table[name].cat for name in EXERCISE_COLUMNS)
    part = np.full(len(table), -1, dtype=np.int16)
    for number, name in enumerate(exercise.categories):
        for other, which in enumerate(side.categories):
            own = (exercise.codes.to_numpy() == number) & (side.codes.to_numpy() == other)
            if own.any():
                index = numbers.get((str(name), str(which)))
                if index is None:
                    line = int(np.argmax(own)) + 2
                    raise ResultError(
                        f"names the exercise {str(name)!r:.60} ({str(which)!r:.20}), which result.json does not hold",
                        where=f"{where}:{line}",
                        do=AGAIN,
                    )
                part[own] = index
    return part
