"""Tables of a cohort read back as data frames, from comma-separated text or Parquet, whole or by participant."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

from imu_rom.errors import ResultError
from imu_rom.exchange.spreadsheet_cells import TRUE, without_apostrophe
from imu_rom.exchange.table_blocks import parquet_library
from imu_rom.exchange.tidy_columns import TableLayout

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["KINDS", "read_table"]

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
