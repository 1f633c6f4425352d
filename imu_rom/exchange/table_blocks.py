"""Rows of a tidy table as comma-separated lines or as a piece of Parquet, so that tables can be written bit by bit."""

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any

from imu_rom.errors import MissingExtraError
from imu_rom.exchange.spreadsheet_cells import cell_of, line_of, quoted
from imu_rom.exchange.tidy_columns import TableLayout

if TYPE_CHECKING:
    import pyarrow as pa

__all__ = ["arrow_schema", "arrow_table", "csv_heading", "csv_lines", "parquet_library", "whole_text"]


def csv_heading(layout: TableLayout) -> bytes:
    """Write a table's heading.

    Parameters
    ----------
    layout : TableLayout
        Its columns.

    Returns
    -------
    bytes
        One line of UTF-8 text.
    """
    return line_of(layout.names).encode()


def csv_lines(layout: TableLayout, rows: Iterable[Mapping[str, object]]) -> bytes:
    """Write rows as comma-separated text.

    Parameters
    ----------
    layout : TableLayout
        Their columns.
    rows : iterable of mapping of str to value
        By column.

    Returns
    -------
    bytes
        UTF-8 text without a heading; text that begins as a formula is defused.
    """
    values = [[row[each.name] for each in layout.columns] for row in rows]
    columns = [
        _cells(column, each.unit) for each, column in zip(layout.columns, zip(*values, strict=True), strict=False)
    ]
    return "".join(f"{','.join(cells)}\n" for cells in zip(*columns, strict=True)).encode()


def _cells(column: Iterable[object], unit: str) -> list[str]:
    """Write a column; what it holds again and again, such as a participant, is worked out once."""
    # 1, 1.0 and True are equal, and different cells
    known: dict[tuple[type, object], str] = {}
    cells = []
    for value in column:
        key = (value.__class__, value)
        cell = known.get(key)
        if cell is None:
            cell = known[key] = quoted(cell_of(value, unit))
        cells.append(cell)
    return cells


def whole_text(value: object) -> object:
    """Put a question mark for half a character of two, which can't be written as UTF-8.

    Parameters
    ----------
    value : object
        Text, or anything else.

    Returns
    -------
    object
        The text; anything else as it is.
    """
    return value.encode("utf-8", errors="replace").decode() if isinstance(value, str) else value


def parquet_library() -> Any:  # noqa: ANN401  a module without types
    """Import what writes Parquet.

    Returns
    -------
    module
        ``pyarrow.parquet``.

    Raises
    ------
    MissingExtraError
        pyarrow is not installed.
    """
    try:
        import pyarrow.parquet as pq  # noqa: PLC0415  an extra
    except ImportError:
        raise MissingExtraError("Parquet needs pyarrow", do="pip install 'imu-rom[parquet]'") from None
    return pq


def arrow_schema(layout: TableLayout) -> "pa.Schema":
    """Describe a table for Parquet, with unit and meaning of each column.

    Parameters
    ----------
    layout : TableLayout
        Its columns.

    Returns
    -------
    pyarrow.Schema
        The same columns.
    """
    import pyarrow as pa  # noqa: PLC0415

    kinds = {"text": pa.string(), "number": pa.float64(), "whole number": pa.int64(), "yes or no": pa.bool_()}
    fields = [
        pa.field(each.name, kinds[each.kind], metadata={"unit": each.unit, "meaning": each.meaning})
        for each in layout.columns
    ]
    return pa.schema(fields, metadata={"row": layout.row, "key": " ".join(layout.key)})


def arrow_table(layout: TableLayout, rows: Iterable[Mapping[str, object]]) -> "pa.Table":
    """Make a piece of Parquet of rows.

    Parameters
    ----------
    layout : TableLayout
        Their columns.
    rows : iterable of mapping of str to value
        By column.

    Returns
    -------
    pyarrow.Table
        The rows.
    """
    import pyarrow as pa  # noqa: PLC0415

    whole = [{name: whole_text(value) for name, value in row.items()} for row in rows]
    return pa.Table.from_pylist(whole, schema=arrow_schema(layout))
