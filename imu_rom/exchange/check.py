"""``check.json``: what a check that a clinic did shows, for other programs and for the clinic's plans.

Its layout is published as a JSON Schema beside this module (`check_schema`); ``schema_version`` rises when a key
changes its meaning or goes away. A plan reads ``for_the_plan`` (`imu_rom.dose.check_file`). Numbers are kept as in
``result.json``, and the same input gives the same bytes.
"""

import json
from collections.abc import Mapping, Sequence
from dataclasses import fields, replace
from importlib import resources
from typing import Any, TypeVar

from imu_rom.dose.check_file import CHECK_FORMAT, CHECK_VERSION
from imu_rom.exchange.document import package_versions, recording_summary
from imu_rom.exchange.plain_values import json_text, plain, rounded
from imu_rom.session.sensor_check_result import SensorCheck
from imu_rom.session.taping_check import TapingCheck
from imu_rom.version import __version__

__all__ = ["check_schema", "rounded_check", "write_check"]

Check = TypeVar("Check", SensorCheck, TapingCheck)
# what stands elsewhere in the file, and what is too large for it
NOT_IN_ANSWER = ("recording", "recordings", "plan_parts", "inputs", "settings", "findings")


def rounded_check(check: Check) -> Check:
    """Round a check to what its file keeps, so that page, terminal and file agree to the last digit.

    Parameters
    ----------
    check : SensorCheck or TapingCheck
        As it was worked out.

    Returns
    -------
    SensorCheck or TapingCheck
        The same with rounded figures; recordings and settings are untouched.
    """
    kept = [each.name for each in fields(check) if each.name not in {"recording", "recordings", "settings"}]
    return replace(check, **{name: rounded(getattr(check, name), name) for name in kept})


def write_check(check: SensorCheck | TapingCheck, cautions: Sequence[str]) -> bytes:
    """Write a check as JSON.

    Parameters
    ----------
    check : SensorCheck or TapingCheck
        What `rounded_check` returned.
    cautions : sequence of str
        What every reader must be told.

    Returns
    -------
    bytes
        UTF-8 text; the same check gives the same bytes.
    """
    sensor = isinstance(check, SensorCheck)
    recordings = (check.recording,) if isinstance(check, SensorCheck) else check.recordings
    settings: Mapping[str, Mapping[str, object]] = check.settings.as_mapping()
    layout: dict[str, Any] = {
        "format": CHECK_FORMAT,
        "schema_version": CHECK_VERSION,
        "check": "sensor" if sensor else "taping",
        "program": {"name": "imu-rom", "version": __version__},
        "for_the_plan": {"parts": plain(check.plan_parts)},
        "answer": {
            each.name: plain(getattr(check, each.name)) for each in fields(check) if each.name not in NOT_IN_ANSWER
        },
        "recordings": [plain(recording_summary(each)) for each in recordings],
        "findings": plain(check.findings),
        "cautions": list(cautions),
        "provenance": {
            "inputs": plain(check.inputs),
            "versions": plain(package_versions(settings)),
            "settings": plain(settings),
        },
    }
    return json_text(layout).encode()


def check_schema() -> dict[str, Any]:
    """Return the JSON Schema (draft 2020-12) of ``check.json``.

    Returns
    -------
    dict
        The schema.
    """
    text = resources.files(__package__).joinpath("check_schema.json").read_text(encoding="utf-8")
    schema: dict[str, Any] = json.loads(text)
    return schema
