"""How the files of a patient's logger are read: said once by the clinic, versioned."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass

from starlette.requests import Request
from starlette.responses import Response

from imu_rom.clinic.file_readings import CHOICES, FileReading, FileReadingVersion, add_file_reading, file_readings
from imu_rom.clinic.kept_recordings import KeptRecording, list_recordings
from imu_rom.clinic.web.clinician_frame import Frame, back, frame, moment, whole_number
from imu_rom.clinic.web.permissions import Permitted
from imu_rom.clinic.web.rendering import page_response
from imu_rom.clinic.web.routes import page
from imu_rom.errors import ClinicError
from imu_rom.wording.clinic_files_text import FILE_FIELDS, LEFT_TO_FILES, read_as_said
from imu_rom.wording.clinic_list_text import told_words

__all__ = ["FilesContent"]

MOST_REFUSED = 5


@dataclass(frozen=True)
class FieldContent:
    """One field of the form.

    Parameters
    ----------
    name, label, hint, value, problem : str
        What it is called, says and holds, and what is to be mended.
    choices : tuple of tuple of str
        (value, label) of a closed list; empty for a text.
    """

    name: str
    label: str
    hint: str
    value: str
    problem: str
    choices: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class FilesContent:
    """What the page shows.

    Parameters
    ----------
    frame : Frame
        Whose.
    told, problem : str
        What was just done, and what is to be mended; may be empty.
    based_on : int
        Version that is shown.
    fields : tuple of FieldContent
        The form.
    refused : tuple of KeptRecording
        The newest sessions that could not be read.
    versions : tuple of str
        All of them, the newest first.
    """

    frame: Frame
    told: str
    problem: str
    based_on: int
    fields: tuple[FieldContent, ...]
    refused: tuple[KeptRecording, ...]
    versions: tuple[str, ...]


@page("/patients/{patient_id}/files", who="clinician")
def files(request: Request, permitted: Permitted) -> Response:
    """Show how the files are read."""
    return _files_page(request, permitted)


@page("/patients/{patient_id}/files", who="clinician", method="POST")
def change_files(request: Request, permitted: Permitted) -> Response:
    """Keep how the files are read from now on."""
    person = permitted.person
    values = {name: permitted.text(name) for name, _, _ in FILE_FIELDS}
    try:
        reading = FileReading.of(values)
        with permitted.service.database.writing() as connection:
            add_file_reading(
                connection,
                permitted.now_ms,
                clinic_id=person.clinic_id,
                patient_id=person.patient_id,
                author_id=permitted.actor.user_id,
                reading=reading,
                based_on=whole_number(permitted.text("based_on")) or 0,
            )
    except ClinicError as error:
        return _files_page(request, permitted, values, error)
    return back(f"/patients/{person.patient_id}/files", "files")


def _files_page(
    request: Request, permitted: Permitted, given: Mapping[str, str] | None = None, problem: ClinicError | None = None
) -> Response:
    with permitted.service.database.reading() as connection:
        versions = file_readings(connection, permitted.person.patient_id)
        kept = list_recordings(connection, permitted.person.patient_id)
    values = given or asdict(versions[0].reading if versions else FileReading())
    where = "" if problem is None else problem.where
    content = FilesContent(
        frame=frame(permitted, "account"),
        told=told_words(request.query_params.get("told", "")),
        problem="" if problem is None or where else str(problem),
        based_on=versions[0].version if versions else 0,
        fields=tuple(
            FieldContent(
                name,
                label,
                hint,
                values.get(name, ""),
                "" if problem is None or where != name else f"{problem.what[0].upper()}{problem.what[1:]}.",
                (("", LEFT_TO_FILES), *((each, each) for each in CHOICES[name])) if name in CHOICES else (),
            )
            for name, label, hint in FILE_FIELDS
        ),
        refused=tuple(each for each in kept if each.reason_code in {"left-open", "unreadable"})[:MOST_REFUSED],
        versions=tuple(_version(permitted, each) for each in versions),
    )
    return page_response(request, permitted, "files.html", content, 400 if problem else 200)


def _version(permitted: Permitted, each: FileReadingVersion) -> str:
    return f"Version {each.version}, {moment(permitted, each.created_at_ms)}. {read_as_said(asdict(each.reading))}"
