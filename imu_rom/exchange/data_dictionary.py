"""The data dictionary beside exported tables: unit, meaning and formula of every column, as JSON and as Markdown."""

from collections.abc import Collection, Sequence
from typing import Any

from imu_rom.exchange.plain_values import json_text
from imu_rom.exchange.tidy_columns import Column, TableLayout
from imu_rom.version import __version__

__all__ = ["dictionary_json", "dictionary_markdown"]

FORMAT = "imu-rom data dictionary"
SCHEMA_VERSION = 1
EMPTY = "An empty cell: not known, or not prescribed."
HEADINGS = ("column", "kind", "unit", "meaning", "formula")


def _column(column: Column) -> dict[str, str]:
    return {
        "name": column.name,
        "kind": column.kind,
        "unit": column.unit,
        "meaning": column.meaning,
        "formula": column.formula,
    }


def _file(layout: TableLayout, ending: str, partitioned: Collection[str]) -> str:
    return f"{layout.name}/*.{ending}" if layout.name in partitioned else f"{layout.name}.{ending}"


def dictionary_json(layouts: Sequence[TableLayout], ending: str, partitioned: Collection[str] = ()) -> bytes:
    """Write the dictionary as JSON.

    Parameters
    ----------
    layouts : sequence of TableLayout
        Tables, in order.
    ending : str
        Of their files.
    partitioned : collection of str
        Names of tables that are folders of files.

    Returns
    -------
    bytes
        UTF-8 text.
    """
    content: dict[str, Any] = {
        "format": FORMAT,
        "schema_version": SCHEMA_VERSION,
        "program": {"name": "imu-rom", "version": __version__},
        "empty_cell": EMPTY,
        "tables": [
            {
                "name": each.name,
                "file": _file(each, ending, partitioned),
                "row": each.row,
                "key": list(each.key),
                "columns": [_column(one) for one in each.columns],
            }
            for each in layouts
        ],
    }
    return json_text(content).encode()


def dictionary_markdown(layouts: Sequence[TableLayout], ending: str, partitioned: Collection[str] = ()) -> bytes:
    """Write the dictionary as Markdown.

    Parameters
    ----------
    layouts : sequence of TableLayout
        Tables, in order.
    ending : str
        Of their files.
    partitioned : collection of str
        Names of tables that are folders of files.

    Returns
    -------
    bytes
        UTF-8 text.
    """
    lines = [f"# Data dictionary\n\nWritten by imu-rom {__version__}. Units are UCUM's. {EMPTY}"]
    for each in layouts:
        keys = ", ".join(f"`{name}`" for name in each.key)
        rows = [HEADINGS, ("---",) * len(HEADINGS)]
        rows += [(f"`{one.name}`", one.kind, one.unit, one.meaning, one.formula) for one in each.columns]
        table = "\n".join("| " + " | ".join(row) + " |" for row in rows)
        lines.append(f"## {_file(each, ending, partitioned)}\n\nOne row is {each.row}; its key is {keys}.\n\n{table}")
    return ("\n\n".join(lines) + "\n").encode()
