"""A table written bit by bit, as comma-separated text or Parquet, so that it need not fit into memory."""

import os
from collections.abc import Iterable, Mapping
from pathlib import Path
from types import TracebackType
from typing import Any, BinaryIO, Literal, Self

from imu_rom.exchange.table_blocks import arrow_schema, arrow_table, csv_heading, csv_lines, parquet_library
from imu_rom.exchange.tidy_columns import TableLayout

__all__ = ["Ending", "TablePart"]

Ending = Literal["csv", "parquet"]

# rows of Parquet that are kept before they are written: groups of rows that are read in one go
GROUP = 50_000


class TablePart:
    """One file of a table; it is made with the first rows, or when it is closed.

    Parameters
    ----------
    path : Path
        The file, without its ending.
    layout : TableLayout
        Its columns.
    ending : {"csv", "parquet"}
        What to write.
    """

    def __init__(self, path: Path, layout: TableLayout, ending: Ending) -> None:
        self.path = path.with_name(f"{path.name}.{ending}")
        self.layout = layout
        self.ending = ending
        self._waiting: list[Mapping[str, object]] = []
        self._file: BinaryIO = self.path.open("wb")
        self._parquet: Any = None
        if ending == "csv":
            self._file.write(csv_heading(layout))
        else:
            self._parquet = parquet_library().ParquetWriter(self._file, arrow_schema(layout))

    def add(self, rows: Iterable[Mapping[str, object]]) -> None:
        """Write rows.

        Parameters
        ----------
        rows : iterable of mapping of str to value
            By column.
        """
        if self._parquet is None:
            self._file.write(csv_lines(self.layout, rows))
            return
        self._waiting += rows
        if len(self._waiting) >= GROUP:
            self._write_group()

    def _write_group(self) -> None:
        self._parquet.write_table(arrow_table(self.layout, self._waiting))
        self._waiting = []

    def close(self) -> None:
        """Finish the file, and have it on the disk."""
        if self._parquet is not None:
            if self._waiting:
                self._write_group()
            self._parquet.close()
        if not self._file.closed:
            self._file.flush()
            os.fsync(self._file.fileno())
            self._file.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()
