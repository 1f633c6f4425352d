"""Rows of tables as pandas data frames, each column with the kind that its layout names."""

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any

from imu_rom.exchange.table_reading import KINDS
from imu_rom.exchange.tidy_columns import TableLayout

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["described", "frame_of"]


def frame_of(layout: TableLayout, rows: Iterable[Mapping[str, object]]) -> "pd.DataFrame":
    """Make a data frame of rows.

    Parameters
    ----------
    layout : TableLayout
        Their columns.
    rows : iterable of mapping of str to value
        By column; what else a row has is left out.

    Returns
    -------
    pandas.DataFrame
        Text as objects, numbers as ``float64``, whole numbers as ``Int64``, yes or no as ``boolean``; units and
        meanings of the columns are in its ``attrs``.
    """
    import pandas as pd  # noqa: PLC0415  the rest needs none

    columns: dict[str, list[Any]] = {name: [] for name in layout.names}
    for row in rows:
        for name, cells in columns.items():
            cells.append(row[name])
    kinds = {each.name: KINDS[each.kind] for each in layout.columns}
    return described(
        layout, pd.DataFrame({name: pd.Series(cells, dtype=kinds[name]) for name, cells in columns.items()})
    )


def described(layout: TableLayout, frame: "pd.DataFrame") -> "pd.DataFrame":
    """Say in a data frame what its columns mean.

    Parameters
    ----------
    layout : TableLayout
        Its columns.
    frame : pandas.DataFrame
        With these columns.

    Returns
    -------
    pandas.DataFrame
        With ``attrs["units"]`` (UCUM) and ``attrs["meanings"]`` by column.
    """
    frame.attrs["units"] = {each.name: each.unit for each in layout.columns if each.unit}
    frame.attrs["meanings"] = {each.name: each.meaning for each in layout.columns}
    return frame
