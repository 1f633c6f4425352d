"""Tables of a cohort read back as data frames, from comma-separated text or Parquet, whole or by participant."""

import json
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from imu_rom.errors import ResultError
from imu_rom.exchange.spreadsheet_cells import TRUE, without_apostrophe
from imu_rom.exchange.table_blocks import parquet_library
from imu_rom.exchange.tidy_columns import Column, TableLayout
from imu_rom.exchange.tidy_files import DICTIONARY

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["KINDS", "dictionary_layout", "read_parts", "read_table"]

KINDS: dict[str, Any] = {"text": "object", "number": "float64", "whole number": "Int64", "yes or no": "boolean"}
"""What pandas keeps a column as, by its kind; whole numbers and answers that may be missing keep theirs."""

_AGAIN = "run imu-rom cohort again"


def read_table(folder: Path, layout: TableLayout) -> "pd.DataFrame":
    """Read one table of a cohort.

    Parameters
    ----------
    folder : Path
        Its ``tables``.
    layout : TableLayout
        Which, with its columns.

    Returns
    -------
    pandas.DataFrame
        All participants' rows, in order of their files; columns are of `KINDS`.

    Raises
    ------
    ResultError
        It is missing, damaged, or has other columns.
    MissingExtraError
        It is Parquet, and pyarrow is not installed.
    """
    import pandas as pd  # noqa: PLC0415  the rest needs none

    for ending, read in (("csv", _text), ("parquet", _parquet)):
        file = folder / f"{layout.name}.{ending}"
        parts = [file] if file.is_file() else sorted((folder / layout.name).glob(f"*.{ending}"))
        if parts:
            return pd.concat([read(each, layout) for each in parts], ignore_index=True)
    if not (folder / layout.name).is_dir():
        raise ResultError("there is no such table", where=str(folder / layout.name), do=_AGAIN)
    return _empty(layout)


def dictionary_layout(folder: Path, name: str) -> TableLayout:
    """Take a table's columns from the dictionary beside the tables: those of the participants are the dataset's own.

    Parameters
    ----------
    folder : Path
        The ``tables`` of a cohort.
    name : str
        Which table.

    Returns
    -------
    TableLayout
        Its columns.

    Raises
    ------
    ResultError
        The dictionary is missing or damaged.
    """
    where = folder / DICTIONARY
    try:
        (own,) = [each for each in json.loads(where.read_bytes())["tables"] if each["name"] == name]
        columns = tuple(Column(each["name"], each["kind"], each["unit"], each["meaning"]) for each in own["columns"])
        return TableLayout(name, own["row"], tuple(own["key"]), columns)
    except (OSError, ValueError, LookupError, TypeError):
        raise ResultError("can't be read", where=str(where), do=_AGAIN) from None


def read_parts(folder: Path, layouts: Sequence[TableLayout]) -> "Iterator[tuple[pd.DataFrame, ...]]":
    """Read several tables that have a file for each participant, one participant at a time.

    Parameters
    ----------
    folder : Path
        Their ``tables``.
    layouts : sequence of TableLayout
        Which.

    Yields
    ------
    tuple of pandas.DataFrame
        One participant's rows of each table; empty where there are none.

    Raises
    ------
    ResultError
        A table is damaged, or has other columns.
    MissingExtraError
        It is Parquet, and pyarrow is not installed.
    """
    files: dict[str, dict[str, Path]] = {}
    for layout in layouts:
        for each in sorted((folder / layout.name).glob("*.*")):
            if each.suffix in {".csv", ".parquet"}:
                files.setdefault(each.stem, {})[layout.name] = each
    for _, own in sorted(files.items()):
        yield tuple(
            (_text if own[each.name].suffix == ".csv" else _parquet)(own[each.name], each)
            if each.name in own
            else _empty(each)
            for each in layouts
        )


def _empty(layout: TableLayout) -> "pd.DataFrame":
    import pandas as pd  # noqa: PLC0415

    return pd.DataFrame({each.name: pd.Series([], dtype=KINDS[each.kind]) for each in layout.columns})


def _text(file: Path, layout: TableLayout) -> "pd.DataFrame":
    import pandas as pd  # noqa: PLC0415

    kinds = {each.name: "float64" if "number" in each.kind else "object" for each in layout.columns}
    try:
        frame = pd.read_csv(file, dtype=kinds, keep_default_na=False, na_values=[""], encoding="utf-8", index_col=False)
    except OSError as error:
        raise ResultError(f"can't be read: {error.strerror}", where=str(file), do=_AGAIN) from None
    except (ValueError, OverflowError) as error:
        raise ResultError(f"can't be read: {error}"[:200], where=str(file), do=_AGAIN) from None
    _check(file, layout, tuple(frame.columns))
    for each in layout.columns:
        if each.kind == "yes or no":
            frame[each.name] = (frame[each.name] == TRUE).astype("boolean").mask(frame[each.name].isna())
        elif each.kind == "whole number":
            frame[each.name] = frame[each.name].astype("Int64")
        elif each.kind == "text":
            cells = [None if isinstance(cell, float) else without_apostrophe(cell) for cell in frame[each.name]]
            frame[each.name] = pd.Series(cells, dtype="object", index=frame.index)
    return frame


def _parquet(file: Path, layout: TableLayout) -> "pd.DataFrame":
    import pandas as pd  # noqa: PLC0415

    try:
        table = parquet_library().read_table(file)
    except (OSError, ValueError) as error:
        raise ResultError(f"can't be read: {error}"[:200], where=str(file), do=_AGAIN) from None
    _check(file, layout, tuple(table.column_names))
    return pd.DataFrame(
        {each.name: pd.Series(table[each.name].to_pylist(), dtype=KINDS[each.kind]) for each in layout.columns}
    )


def _check(file: Path, layout: TableLayout, names: tuple[str, ...]) -> None:
    if names != layout.names:
        raise ResultError("has other columns than this version writes", where=str(file), do=_AGAIN)
