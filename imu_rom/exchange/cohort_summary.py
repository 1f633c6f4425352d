"""``summary.json`` and ``summary.md``: a cohort's summary for programs and for people."""

from collections.abc import Sequence
from typing import Any

from imu_rom.dose.cohort_summary import CohortSummary
from imu_rom.exchange.json_schema import object_schema, schema_of
from imu_rom.exchange.plain_values import json_text, plain
from imu_rom.version import __version__

__all__ = ["SUMMARY_FILES", "summary_schema", "write_summary"]

FORMAT = "imu-rom cohort summary"
SCHEMA_VERSION = 1
SUMMARY_FILES = ("summary.json", "summary.md", "summary.html")


def write_summary(summary: CohortSummary, head: dict[str, Any], references: Sequence[str]) -> bytes:
    """Write a summary as JSON.

    Parameters
    ----------
    summary : CohortSummary
        Rounded.
    head : dict
        The cohort's own ``cohort.json``, for the provenance.
    references : sequence of str
        Where formulas come from.

    Returns
    -------
    bytes
        UTF-8 text; the same summary gives the same bytes.
    """
    layout = {
        "format": FORMAT,
        "schema_version": SCHEMA_VERSION,
        "program": {"name": "imu-rom", "version": __version__},
        "summary": plain(summary),
        "references": list(references),
        "cohort": head,
    }
    return json_text(layout).encode()


def summary_schema() -> dict[str, Any]:
    """Describe the file.

    Returns
    -------
    dict
        JSON Schema, draft 2020-12.
    """
    words = {"type": "string"}
    return object_schema(
        {
            "format": {"const": FORMAT},
            "schema_version": {"const": SCHEMA_VERSION},
            "program": object_schema({"name": words, "version": words}),
            "summary": schema_of(CohortSummary),
            "references": {"type": "array", "items": words},
            "cohort": {"type": "object"},
        }
    )
