"""One recording of a dataset analysed from its files to one piece of the tables; runs in any process or machine."""

import hashlib
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from imu_rom.cohort.dataset import Dataset, DatasetRecording
from imu_rom.cohort.plans import NotPairedError, plan_of
from imu_rom.cohort.pools import one_thread
from imu_rom.course.plans import PlanVersion
from imu_rom.course.recorded import fingerprint
from imu_rom.dose.assignment import sensors_meant
from imu_rom.errors import CannotAnswerError, CohortError, ImuRomError, MissingExtraError, PlanError, RecordingError
from imu_rom.exchange.cohort_columns import COHORT_LAYOUTS
from imu_rom.exchange.cohort_rows import RecordingIdentity, recording_rows, reference_rows, set_curves
from imu_rom.exchange.document import package_versions, result_document
from imu_rom.exchange.plain_values import json_text
from imu_rom.recording.bids_sidecars import recorded_at_of
from imu_rom.settings import Settings
from imu_rom.version import __version__

if TYPE_CHECKING:
    from imu_rom.findings import Finding
    from imu_rom.recording.model import Recording
    from imu_rom.session.reference_result import ReferenceComparison
    from imu_rom.session.result import SessionResult

__all__ = ["Done", "Job", "analyse_recording", "failed"]

PIECE_FORMAT = "imu-rom cohort piece"
PIECE_VERSION = 2


@dataclass(frozen=True)
class Job:
    """One recording to be analysed.

    Parameters
    ----------
    dataset : Dataset
        Where its files are.
    recording : DatasetRecording
        Which it is.
    plans : tuple of PlanVersion
        Those that may be meant.
    settings : Settings
        All settings.
    known : tuple of str
        Keys of finished pieces of this recording.
    program_version : str
        Of the process that asks; all must have the same.
    """

    dataset: Dataset
    recording: DatasetRecording
    plans: tuple[PlanVersion, ...]
    settings: Settings
    known: tuple[str, ...] = ()
    program_version: str = __version__


@dataclass(frozen=True)
class Done:
    """What came of one recording.

    Parameters
    ----------
    place : str
        Its place within the dataset.
    key : str or None
        Fingerprint of all that the piece depends on; None where it is to be tried again the next time.
    piece : bytes or None
        What the tables are put together from; None where the finished piece is still true.
    code : str
        Why it can't be used; empty where it was analysed, or nothing was done.
    """

    place: str
    key: str | None
    piece: bytes | None
    code: str = ""


class _Failure(Exception):  # noqa: N818  never leaves this module
    def __init__(self, code: str, why: str) -> None:
        self.code = code
        self.why = why
        super().__init__(code)


_CODES: dict[type[ImuRomError], str] = {
    PlanError: "not-of-the-plan",
    RecordingError: "unreadable-recording",
    CannotAnswerError: "no-answer",
}


def analyse_recording(job: Job) -> Done:
    """Analyse one recording, unless nothing changed since its piece was made.

    Parameters
    ----------
    job : Job
        What is to be done.

    Returns
    -------
    Done
        The same for the same content, wherever it runs; a recording that can't be used is a piece that says why.

    Raises
    ------
    CohortError
        The process that asks is of another version.
    MissingExtraError
        What the dataset or the settings need is not installed here.
    """
    if job.program_version != __version__:
        raise CohortError(
            f"all processes must run the same imu-rom, got {job.program_version} here and {__version__} at a worker",
            do="install the same version everywhere",
        )
    try:
        with job.dataset.at_hand(job.recording) as folder:
            return _analysed(job, folder)
    except MissingExtraError:
        raise
    except OSError as error:
        why = f"can't be read: {(error.strerror or str(error)).lower()}; check the file and your access to it."
        return failed(job, "not-reachable", why)
    except MemoryError:
        return failed(job, "not-enough-memory", "is too large for the memory of a worker; give it more.")


def failed(job: Job, code: str, why: str, *, key: str | None = None) -> Done:
    """Make the piece of a recording that can't be used.

    Parameters
    ----------
    job : Job
        The recording.
    code : str
        Stable words for why.
    why : str
        The sentence.
    key : str, optional
        Fingerprint of all that it depends on; None: to be tried again the next time.

    Returns
    -------
    Done
        With its piece.
    """
    return Done(job.recording.place, key, _piece(job, {"code": code, "why": why}), code)


def _piece(job: Job, failure: dict[str, str] | None, **content: object) -> bytes:
    head = {
        "format": PIECE_FORMAT,
        "schema_version": PIECE_VERSION,
        "program_version": __version__,
        "recording": job.recording.place,
        "participant": job.recording.participant,
        "session": job.recording.session,
        "failure": failure,
    }
    return json_text(head | content).encode()


def _analysed(job: Job, folder: Path) -> Done:
    recording = job.recording
    motion = folder / recording.place
    files = {each: _sha256(folder / each) for each in recording.files if not each.endswith("_scans.tsv")}
    noticed: list[Finding] = []
    recorded_at: str | None = None
    chosen: PlanVersion | _Failure
    try:
        # of a list of scans only the recording's own line matters
        recorded_at, _ = recorded_at_of(motion, noticed)
        if recorded_at is None and recording.partner is not None:
            recorded_at, _ = recorded_at_of(folder / recording.partner, noticed)
        chosen = plan_of(job.plans, recorded_at, recording.label("task"))
    except NotPairedError as error:
        chosen = _Failure(error.code, str(error))
    except RecordingError as error:
        chosen = _Failure("bad-time", str(error))
    key = fingerprint(
        [
            PIECE_VERSION,
            __version__,
            [recording.place, recording.session],
            files,
            [recorded_at, noticed],
            [chosen.code, chosen.why] if isinstance(chosen, _Failure) else [chosen.file, chosen.plan.own_uncertainty],
            job.settings.as_mapping(),
            package_versions(job.settings.as_mapping()),
        ]
    )
    if key in job.known:
        return Done(recording.place, key, None)
    if isinstance(chosen, _Failure):
        return failed(job, chosen.code, chosen.why.replace(f"{folder}/", ""), key=key)
    try:
        piece = _answered(job, folder, files[recording.place], chosen, recorded_at)
    except _Failure as failure:
        # a place on this machine is no part of what is wrong
        return failed(job, failure.code, failure.why.replace(f"{folder}/", ""), key=key)
    except (MissingExtraError, MemoryError, OSError):
        raise
    except Exception as error:  # noqa: BLE001  whatever one recording does, the others go on
        return failed(job, "unexpected-error", f"stopped the analysis, a fault of imu-rom: {error!r}.", key=key)
    return Done(recording.place, key, piece)


def _sha256(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _read(job: Job, folder: Path, version: PlanVersion, recorded_at: str | None) -> "Recording":
    """Read a recording; of two files with a sensor each those that the plan means."""
    # imported here so that a walk over what is finished loads little
    from imu_rom.recording.delimited import DelimitedOptions  # noqa: PLC0415
    from imu_rom.recording.reading import read_recording  # noqa: PLC0415

    recording, settings = job.recording, job.settings.reading
    proximal, distal = sensors_meant(version.plan, None, None)
    options = DelimitedOptions(proximal=proximal, distal=distal)
    if recording.partner is None:
        return read_recording(folder / recording.place, settings, options)
    files = dict(zip(recording.points, (folder / recording.place, folder / recording.partner), strict=True))
    if proximal in files and distal in files:
        pair = replace(options, proximal_file=files[proximal], distal_file=files[distal], clocks="separate")
        # which of both files says when does not matter to the day
        return read_recording(None, settings, pair, recorded_at=recorded_at)
    meant = [files[each] for each in (proximal, distal) if each in files]
    return read_recording(meant[0] if meant else folder / recording.place, settings, options)


def _answered(job: Job, folder: Path, sha256: str, version: PlanVersion, recorded_at: str | None) -> bytes:
    from imu_rom.session import analyse  # noqa: PLC0415  as above

    recording = job.recording
    try:
        with one_thread():
            measured = _read(job, folder, version, recorded_at)
        answer = analyse(measured, version.plan, settings=job.settings, inputs=(version.file,))
        compared, unlike = _references(answer)
        document = result_document(replace(answer, findings=(*answer.findings, *unlike)))
    except MissingExtraError:
        raise
    except ImuRomError as error:
        raise _Failure(_CODES.get(type(error), "not-usable"), str(error)) from None
    identity = RecordingIdentity(
        participant=recording.participant,
        session=recording.session,
        bids_session=recording.label("ses"),
        run=recording.label("run"),
        tracking_system=recording.label("tracksys"),
        recording=recording.place,
        recording_sha256=sha256,
        plan_file=version.file.name,
        plan_sha256=version.file.sha256,
    )
    rows = recording_rows(identity, document)
    if compared:
        rows["references"] = [*reference_rows(identity, compared)]
    tables = {
        layout.name: [[row[name] for name in layout.names] for row in rows.get(layout.name, ())]
        for layout in COHORT_LAYOUTS
        if layout.name in rows
    }
    return _piece(
        job, None, sha256=sha256, tables=tables, curves=[_compact(asdict(each)) for each in set_curves(document)]
    )


def _references(answer: "SessionResult") -> "tuple[list[tuple[int, ReferenceComparison]], list[Finding]]":
    """Hold the answer against all other measurements of the joint that came with the recording."""
    if not answer.recording.references:
        return [], []
    from imu_rom.findings import Finding  # noqa: PLC0415
    from imu_rom.session.reference import compare_with_reference  # noqa: PLC0415

    parts = {(each.exercise.name, str(each.exercise.side)): part for part, each in enumerate(answer.exercises, start=1)}
    compared: list[tuple[int, ReferenceComparison]] = []
    findings = []
    for channel in answer.recording.references:
        try:
            found = compare_with_reference(answer, channel)
        except CannotAnswerError as error:
            sentence = f"The channel {channel.name} was not compared: {error}"
            findings.append(Finding("reference-not-compared", "note", sentence))
        else:
            compared += [(parts[each.exercise, each.side], each) for each in found]
    return compared, findings


def _compact(curve: dict[str, object]) -> dict[str, object]:
    times = curve["time_past_s"]
    return curve | {"time_past_s": list(times) if isinstance(times, tuple) else times}
