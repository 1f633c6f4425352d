"""Read back exported tables: the same values as were written."""

import csv
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from imu_rom.errors import MissingExtraError, ResultError
from imu_rom.exchange.spreadsheet_cells import value_of, without_apostrophe
from imu_rom.exchange.tables import TIME_DECIMALS
from imu_rom.exchange.tidy_columns import SAMPLES, Column
from imu_rom.exchange.tidy_tables import LAYOUTS, Row, TidyTable

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["ReadTables", "SampleTable", "read_tables"]

AGAIN = "export again"
SAMPLE_NUMBERS = tuple(each.name for each in SAMPLES.columns if each.kind == "number")


@dataclass(frozen=True)
class SampleTable:
    """The samples of all sessions, as arrays.

    Parameters
    ----------
    words : mapping of str to ndarray
        ``session`` and ``phase``: an index into ``names`` for each sample.
    names : mapping of str to tuple of str
        What they stand for.
    part : ndarray of int
        Which exercise of the session, from 1.
    numbers : mapping of str to ndarray
        The other columns; NaN where a cell is empty.
    """

    words: Mapping[str, NDArray[np.int64]]
    names: Mapping[str, tuple[str, ...]]
    part: NDArray[np.int64]
    numbers: Mapping[str, NDArray[np.float64]]


@dataclass(frozen=True)
class ReadTables:
    """An export of tables.

    Parameters
    ----------
    tables : mapping of str to TidyTable
        By name; all but the samples.
    samples : SampleTable
        The samples.
    """

    tables: Mapping[str, TidyTable]
    samples: SampleTable


def read_tables(folder: Path) -> ReadTables:
    """Read what ``imu-rom export --to tables`` or ``--to parquet`` wrote.

    Parameters
    ----------
    folder : Path
        The folder.

    Returns
    -------
    ReadTables
        Values equal to those that were written, to the last digit.

    Raises
    ------
    ResultError
        A table is missing, has other columns, or a cell is of another kind; with file, line and column.
    MissingExtraError
        It is Parquet, and pyarrow is not installed.
    """
    if (folder / f"{SAMPLES.name}.parquet").is_file():
        return _from_parquet(folder)
    tables = {}
    for name, layout in LAYOUTS.items():
        file = folder / f"{name}.csv"
        # a result by itself has no diary and no weeks
        if layout is not SAMPLES and (file.is_file() or "session" in layout.key):
            tables[name] = TidyTable(layout, tuple(_rows(file, layout.columns)))
    return ReadTables(tables, _samples(folder / f"{SAMPLES.name}.csv"))


def _unreadable(file: Path, error: OSError | ValueError) -> ResultError:
    missing = isinstance(error, FileNotFoundError)
    reason = (
        "no such file" if missing else "it is damaged, or no table" if isinstance(error, ValueError) else str(error)
    )
    return ResultError(f"can't be read: {reason}", where=str(file), do=AGAIN)


def _rows(file: Path, columns: tuple[Column, ...]) -> Iterator[Row]:
    try:
        with file.open(encoding="utf-8-sig", newline="") as opened:
            rows = csv.reader(opened, strict=True)
            names = next(rows, [])
            if names != [each.name for each in columns]:
                raise ResultError("has other columns than this version writes", where=f"{file}:1", do=AGAIN)
            for cells in rows:
                where = f"{file}:{rows.line_num}"
                if len(cells) != len(columns):
                    raise ResultError(f"must have {len(columns)} cells, got {len(cells)}", where=where, do=AGAIN)
                yield {
                    each.name: _value(cell, each, f"{where}:{place}")
                    for place, (cell, each) in enumerate(zip(cells, columns, strict=True), start=1)
                }
    except OSError as error:
        raise _unreadable(file, error) from None
    except (UnicodeDecodeError, csv.Error) as error:
        raise _unreadable(file, ValueError(error)) from None


def _value(cell: str, column: Column, where: str) -> object:
    try:
        return value_of(cell, column.kind)
    except ValueError as must:
        raise ResultError(f"{column.name} must be {must}, got {cell!r:.40}", where=where, do=AGAIN) from None


def _samples(file: Path) -> SampleTable:
    import pandas as pd  # noqa: PLC0415  the rest needs none

    kinds: dict[str, Any] = {
        each.name: {"text": "category", "number": np.float64, "whole number": np.int64}[each.kind]
        for each in SAMPLES.columns
    }
    try:
        table = pd.read_csv(
            file,
            dtype=kinds,
            keep_default_na=False,
            na_values={name: [""] for name in SAMPLE_NUMBERS},
            encoding="utf-8",
            index_col=False,
        )
    except OSError as error:
        raise _unreadable(file, error) from None
    except (ValueError, OverflowError) as error:
        raise ResultError(f"can't be read: {error}"[:200], where=str(file), do=AGAIN) from None
    if tuple(table.columns) != SAMPLES.names:
        raise ResultError("has other columns than this version writes", where=f"{file}:1", do=AGAIN)
    return _sample_table(table, without_apostrophe)


def _sample_table(table: "pd.DataFrame", read: Any) -> SampleTable:  # noqa: ANN401
    words = {name: table[name].astype("category").cat for name in ("session", "phase")}
    return SampleTable(
        {name: np.array(each.codes, dtype=np.int64) for name, each in words.items()},
        {name: tuple(read(str(one)) for one in each.categories) for name, each in words.items()},
        table["part"].to_numpy(np.int64),
        # older parsers may miss the nearest number by the last bit
        {name: np.round(table[name].to_numpy(np.float64), TIME_DECIMALS) for name in SAMPLE_NUMBERS},
    )


def _from_parquet(folder: Path) -> ReadTables:
    try:
        import pyarrow as pa  # noqa: PLC0415  an extra
        import pyarrow.parquet as pq  # noqa: PLC0415
    except ImportError:
        raise MissingExtraError("Parquet needs pyarrow", do="pip install 'imu-rom[parquet]'") from None
    tables, read = {}, {}
    for name, layout in LAYOUTS.items():
        file = folder / f"{name}.parquet"
        if not file.is_file() and "session" not in layout.key:
            continue
        try:
            read[name] = pq.read_table(file)
        except OSError as error:
            raise _unreadable(file, error) from None
        except pa.ArrowException as error:
            raise ResultError(f"is no Parquet file ({error})"[:200], where=str(file), do=AGAIN) from None
        if tuple(read[name].column_names) != layout.names:
            raise ResultError("has other columns than this version writes", where=str(file), do=AGAIN)
        if layout is not SAMPLES:
            tables[name] = TidyTable(layout, tuple(read[name].to_pylist()))
    return ReadTables(tables, _sample_table(read[SAMPLES.name].to_pandas(), str))
