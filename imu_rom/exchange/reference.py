"""``reference.json``: a session held against another measurement of the same joint."""

from collections.abc import Mapping, Sequence
from typing import Any

from imu_rom.exchange.document import package_versions, recording_summary
from imu_rom.exchange.json_schema import schema_of
from imu_rom.exchange.plain_values import json_text, plain
from imu_rom.session.reference_result import ReferenceComparison
from imu_rom.session.result import SessionResult
from imu_rom.version import __version__

__all__ = ["REFERENCE_FILES", "reference_schema", "write_reference"]

FORMAT = "imu-rom reference comparison"
SCHEMA_VERSION = 1
REFERENCE_FILES = ("reference.json", "reference.html")


def write_reference(
    session: SessionResult, found: Sequence[ReferenceComparison], notes: Sequence[str], references: Sequence[str]
) -> bytes:
    """Write a comparison as JSON.

    Parameters
    ----------
    session : SessionResult
        What was compared.
    found : sequence of ReferenceComparison
        Rounded; one an exercise.
    notes, references : sequence of str
        What it can't show, and where its formulas come from.

    Returns
    -------
    bytes
        UTF-8 text; the same comparison gives the same bytes.
    """
    settings: Mapping[str, Mapping[str, object]] = session.settings.as_mapping()
    layout: dict[str, Any] = {
        "format": FORMAT,
        "schema_version": SCHEMA_VERSION,
        "program": {"name": "imu-rom", "version": __version__},
        "exercises": [plain(each) for each in found],
        "recording": plain(recording_summary(session.recording)),
        "not_shown": list(notes),
        "references": list(references),
        "provenance": {
            "inputs": plain(session.inputs),
            "versions": plain(package_versions(settings)),
            "settings": plain(settings),
        },
    }
    return json_text(layout).encode()


def reference_schema() -> dict[str, Any]:
    """Describe each of the file's ``exercises``.

    Returns
    -------
    dict
        JSON Schema, draft 2020-12.
    """
    return schema_of(ReferenceComparison)
