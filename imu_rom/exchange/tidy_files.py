"""Tidy tables as files: comma-separated text or Parquet, with a data dictionary beside them; whole or not at all.

In comma-separated text numbers stand as numbers and text that begins as a formula has an apostrophe in front; Parquet
keeps all text as it is.
"""

from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from imu_rom.exchange.data_dictionary import dictionary_json, dictionary_markdown
from imu_rom.exchange.exported import Exported
from imu_rom.exchange.fixed_decimals import NumberColumn, WordColumn, table_blocks
from imu_rom.exchange.folder import whole_folder
from imu_rom.exchange.spreadsheet_cells import defused, quoted
from imu_rom.exchange.table_blocks import arrow_schema, arrow_table, csv_heading, csv_lines, parquet_library, whole_text
from imu_rom.exchange.tidy_columns import SAMPLES
from imu_rom.exchange.tidy_tables import LAYOUTS, TidyTable, sample_columns, tidy_tables

if TYPE_CHECKING:
    import pyarrow as pa

__all__ = ["DICTIONARY", "DICTIONARY_MARKDOWN", "table_files", "write_parquet_tables", "write_text_tables"]

DICTIONARY = "dictionary.json"
DICTIONARY_MARKDOWN = "dictionary.md"


def table_files(ending: str) -> tuple[str, ...]:
    """Name all files that an export of tables may consist of.

    Parameters
    ----------
    ending : {"csv", "parquet"}
        Of the tables.

    Returns
    -------
    tuple of str
        File names.
    """
    return (*(f"{name}.{ending}" for name in LAYOUTS), DICTIONARY, DICTIONARY_MARKDOWN)


class _Quoted(Mapping[str, str]):
    """Texts as they stand in a cell of comma-separated text."""

    def __getitem__(self, key: str) -> str:
        return quoted(defused(key))

    def __iter__(self) -> Iterator[str]:
        return iter(())

    def __len__(self) -> int:
        return 0


class _AsTheyAre(_Quoted):
    def __getitem__(self, key: str) -> str:
        return key


def _samples_csv(exported: Exported) -> Iterator[bytes]:
    yield (",".join(SAMPLES.names) + "\n").encode()
    for result in exported.results:
        if result.angle_file is not None:
            blocks = table_blocks(sample_columns(result, _Quoted()))
            next(blocks)
            yield from blocks


def write_text_tables(exported: Exported, out: Path, *, overwrite: bool = False) -> None:
    """Write all tables as comma-separated text.

    Parameters
    ----------
    exported : Exported
        What goes out.
    out : Path
        Folder to be written.
    overwrite : bool
        True where an earlier export may be replaced.

    Raises
    ------
    OutputError
        It can't be written there.
    ResultError
        An ``angle.csv`` can't be read.
    """

    def write(folder: Path, tables: tuple[TidyTable, ...]) -> None:
        for each in tables:
            (folder / f"{each.layout.name}.csv").write_bytes(
                csv_heading(each.layout) + csv_lines(each.layout, each.rows)
            )
        with (folder / f"{SAMPLES.name}.csv").open("wb") as file:
            file.writelines(_samples_csv(exported))

    _write(exported, out, "csv", write, overwrite=overwrite)


def write_parquet_tables(exported: Exported, out: Path, *, overwrite: bool = False) -> None:
    """Write all tables as Parquet.

    Parameters
    ----------
    exported : Exported
        What goes out.
    out : Path
        Folder to be written.
    overwrite : bool
        True where an earlier export may be replaced.

    Raises
    ------
    MissingExtraError
        pyarrow is not installed.
    OutputError
        It can't be written there.
    ResultError
        An ``angle.csv`` can't be read.
    """
    pq = parquet_library()

    def write(folder: Path, tables: tuple[TidyTable, ...]) -> None:
        for each in tables:
            pq.write_table(arrow_table(each.layout, each.rows), folder / f"{each.layout.name}.parquet")
        with pq.ParquetWriter(folder / f"{SAMPLES.name}.parquet", arrow_schema(SAMPLES)) as writer:
            for result in exported.results:
                if result.angle_file is not None:
                    writer.write_table(_arrow_samples(sample_columns(result, _AsTheyAre())))

    _write(exported, out, "parquet", write, overwrite=overwrite)


def _write(
    exported: Exported,
    out: Path,
    ending: str,
    write: Callable[[Path, tuple[TidyTable, ...]], None],
    *,
    overwrite: bool,
) -> None:
    tables = tidy_tables(exported)
    # the samples come third, as in the list of layouts
    layouts = [each for each in LAYOUTS.values() if each is SAMPLES or any(each is one.layout for one in tables)]
    with whole_folder(out, overwrite=overwrite, files=table_files(ending)) as folder:
        write(folder, tables)
        (folder / DICTIONARY).write_bytes(dictionary_json(layouts, ending))
        (folder / DICTIONARY_MARKDOWN).write_bytes(dictionary_markdown(layouts, ending))


def _arrow_samples(columns: tuple[NumberColumn | WordColumn, ...]) -> "pa.Table":
    import pyarrow as pa  # noqa: PLC0415

    arrays = []
    for each, field in zip(columns, arrow_schema(SAMPLES), strict=True):
        if isinstance(each, WordColumn):
            words = pa.array([whole_text(word) or None for word in each.words], pa.string())
            arrays.append(words.take(pa.array(each.index)))
        else:
            arrays.append(pa.array(each.values, from_pandas=True).cast(field.type))
    return pa.Table.from_arrays(arrays, schema=arrow_schema(SAMPLES))
