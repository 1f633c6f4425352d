"""HL7 FHIR R4B Bundles: what sessions measured, and the pain that a diary tells."""

from collections.abc import Sequence

from imu_rom.errors import ResultError
from imu_rom.exchange.document import ResultDocument
from imu_rom.exchange.exported import Exported, ExportedCourse
from imu_rom.exchange.fhir_diary import diary_observations
from imu_rom.exchange.fhir_parts import Resource, bundle, code_system, device, provenance
from imu_rom.exchange.fhir_session import session_observations
from imu_rom.exchange.plain_values import json_text
from imu_rom.recording.model import InputFile
from imu_rom.version import __version__

__all__ = ["fhir_bundle", "write_fhir"]


def fhir_bundle(exported: Exported) -> Resource:
    """Lay out results, and of a course its diary's pain and morning stiffness, as one FHIR R4B Bundle.

    Parameters
    ----------
    exported : Exported
        What goes out.

    Returns
    -------
    dict
        A Bundle of type ``collection``: the code system, and of each result, and of the diary, the program, the
        Observations and their Provenance.

    Raises
    ------
    ResultError
        The time of a recording is none.
    """
    found = [code_system()]
    for each in exported.results:
        found += _of_result(each.document)
    if exported.course is not None:
        found += _of_course(exported.course)
    return bundle(found)


def write_fhir(exported: Exported) -> bytes:
    """Write what `fhir_bundle` lays out.

    Parameters
    ----------
    exported : Exported
        What goes out.

    Returns
    -------
    bytes
        UTF-8 JSON; the same content gives the same bytes.

    Raises
    ------
    ResultError
        The time of a recording is none, or a number is beyond what can be measured.
    """
    try:
        return json_text(fhir_bundle(exported)).encode()
    except (ValueError, OverflowError):
        # such as 1e999, which JSON allows and no analysis writes
        raise ResultError(
            "has a number or a time that no recording gives", where="the result", do="analyse the recording again"
        ) from None


def _of_result(document: ResultDocument) -> list[Resource]:
    program = device(document.program_version, document.versions)
    return _with_origin(session_observations(document, program), program, document.inputs)


def _of_course(course: ExportedCourse) -> list[Resource]:
    return _with_origin(diary_observations(course.answer, course.inputs), device(__version__, {}), course.inputs)


def _with_origin(found: Sequence[Resource], program: Resource, inputs: Sequence[InputFile]) -> list[Resource]:
    # a Provenance must have a target
    return [program, *found, provenance(found, program, inputs)] if found else [program]
