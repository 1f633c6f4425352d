"""``progress.json``: what a course of weeks answers, for everything that is built on it.

Its layout is published as a JSON Schema (`progress_schema`), made from the same dataclasses that the answer is;
``schema_version`` rises when a key changes its meaning or goes away. Numbers are kept as in ``result.json``, and the
same folder gives the same bytes.
"""

from dataclasses import dataclass, fields
from typing import Any

from imu_rom.dose.course_reading import CourseReading
from imu_rom.dose.weeks_answer import CourseAnswer
from imu_rom.exchange.json_schema import object_schema, schema_of
from imu_rom.exchange.plain_values import json_text, plain, rounded
from imu_rom.settings import Settings
from imu_rom.version import __version__

__all__ = ["ProgressDocument", "progress_document", "progress_schema", "write_progress"]

FORMAT = "imu-rom progress"
SCHEMA_VERSION = 1

# the plan is a file of its own, named among the inputs
OF_THE_PLAN = ("title", "patient", "subject", "tendon_site", "irritability", "settles_within_h")
OF_THE_ANSWER = tuple(each.name for each in fields(CourseAnswer) if each.name not in {"plan", "stage"})
OF_THE_READING = tuple(each.name for each in fields(CourseReading) if each.name != "inputs")


@dataclass(frozen=True)
class ProgressDocument:
    """What a course answers, rounded as its file keeps it.

    Parameters
    ----------
    answer : CourseAnswer
        The weeks.
    reading : CourseReading
        What was read, and what could not be used.
    settings : dict of str to dict
        All settings that the weeks were summed up with.
    """

    answer: CourseAnswer
    reading: CourseReading
    settings: dict[str, dict[str, float | str]]


def progress_document(answer: CourseAnswer, reading: CourseReading, settings: Settings) -> ProgressDocument:
    """Put together what a course answers, so that terminal, page and file agree to the last digit.

    Parameters
    ----------
    answer : CourseAnswer
        As it was worked out.
    reading : CourseReading
        What was read.
    settings : Settings
        All settings.

    Returns
    -------
    ProgressDocument
        Rounded.
    """
    return ProgressDocument(rounded(answer), reading, settings.of_weeks_as_mapping())


def write_progress(document: ProgressDocument, cautions: tuple[str, ...]) -> bytes:
    """Write the answer of a course as JSON.

    Parameters
    ----------
    document : ProgressDocument
        What `progress_document` returned.
    cautions : tuple of str
        What every reader must be told; red flags first.

    Returns
    -------
    bytes
        UTF-8 text; the same document gives the same bytes.
    """
    answer, reading = document.answer, document.reading
    layout: dict[str, Any] = {
        "format": FORMAT,
        "schema_version": SCHEMA_VERSION,
        "program": {"name": "imu-rom", "version": __version__},
        "cautions": list(cautions),
        "plan": {name: plain(getattr(answer.plan, name)) for name in OF_THE_PLAN},
        "stage": None if answer.stage is None else answer.stage.name,
        "course": {name: plain(getattr(answer, name)) for name in OF_THE_ANSWER},
        "reading": {name: plain(getattr(reading, name)) for name in OF_THE_READING},
        "provenance": {"inputs": plain(reading.inputs), "settings": plain(document.settings)},
    }
    return json_text(layout).encode()


def progress_schema() -> dict[str, Any]:
    """Return the JSON Schema (draft 2020-12) of ``progress.json``.

    Returns
    -------
    dict
        The schema.
    """
    text = {"type": "string"}
    text_or_null = {"type": ["string", "null"]}
    number_or_null = {"type": ["number", "null"]}
    plan = dict.fromkeys(OF_THE_PLAN, text_or_null) | {"settles_within_h": number_or_null}
    settings = {
        "type": "object",
        "additionalProperties": {"type": "object", "additionalProperties": {"type": ["number", "string"]}},
    }
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": FORMAT,
        **object_schema(
            {
                "format": {"const": FORMAT},
                "schema_version": {"const": SCHEMA_VERSION},
                "program": object_schema({"name": {"const": "imu-rom"}, "version": text}),
                "cautions": {"type": "array", "items": text},
                "plan": object_schema(plan),
                "stage": text_or_null,
                "course": schema_of(CourseAnswer, OF_THE_ANSWER),
                "reading": schema_of(CourseReading, OF_THE_READING),
                "provenance": object_schema(
                    {"inputs": schema_of(CourseReading, ("inputs",))["properties"]["inputs"], "settings": settings}
                ),
            }
        ),
    }
