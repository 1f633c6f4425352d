"""One sent recording against the plan of its day; runs in a child process, from files to files."""

from collections.abc import Sequence
from dataclasses import asdict, replace
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

from imu_rom.clinic.archives import ArchiveLimits, is_archive, unpack
from imu_rom.clinic.file_readings import FileReading
from imu_rom.clinic.work_order import MADE, MARKS, SENT, AnalysisOrder, Outcome
from imu_rom.course.analysing import no_stage
from imu_rom.course.plans import CoursePlans, PlanVersion, read_plans
from imu_rom.course.recordings import FoundRecording, find_recordings
from imu_rom.dose.exercise import Exercise
from imu_rom.errors import CannotAnswerError, CourseError, ImuRomError, PlanError, RecordingError
from imu_rom.exchange.document import result_document
from imu_rom.exchange.kept_angle import kept_traces
from imu_rom.exchange.marks import read_marks
from imu_rom.exchange.result import write_result
from imu_rom.exchange.tables import angles_table, repetition_table, set_table
from imu_rom.findings import Finding
from imu_rom.recording.delimited import DelimitedOptions
from imu_rom.recording.model import InputFile, Recording
from imu_rom.recording.reading import read_recording
from imu_rom.report.charted import SCRIPT_GOES_HERE
from imu_rom.report.page import page_content, page_text
from imu_rom.session import AskedPart, analyse
from imu_rom.session.parts import WHOLE_SESSION
from imu_rom.session.result import Mark, SessionResult
from imu_rom.settings import Settings
from imu_rom.wording.clinic_files_text import NAMES_AN_OPTION, read_as_said

__all__ = ["analyse_sent"]

UNPACKED = "unpacked"


class _NotAnswered(Exception):  # noqa: N818  never leaves this module
    def __init__(self, code: str, why: str, plan_file: str | None = None) -> None:
        self.code = code
        self.why = why
        self.plan_file = plan_file
        super().__init__(code)


_CODES: dict[type[ImuRomError], str] = {
    RecordingError: "unreadable",
    PlanError: "not-of-the-plan",
    CourseError: "no-plan",
    CannotAnswerError: "no-answer",
}


def analyse_sent(folder: Path) -> Outcome:
    """Analyse what a patient sent, and write what came of it into the folder ``made``.

    Parameters
    ----------
    folder : Path
        The job's, with an `AnalysisOrder`.

    Returns
    -------
    Outcome
        An error that a person can mend is a code and a sentence.
    """
    try:
        return _analysed(folder, AnalysisOrder.read(folder), Settings())
    except _NotAnswered as fault:
        return Outcome(fault.code, fault.why, fault.plan_file)
    except ImuRomError as error:
        # places on this machine are nobody's business
        why = str(error).replace(f"{folder}/", "").replace(f"{UNPACKED}/", "").replace(f"{SENT}/", "")
        code = _CODES.get(type(error), "not-usable")
        if code == "unreadable" and any(each in why for each in NAMES_AN_OPTION):
            code = "left-open"
        return Outcome(code, why)


def _analysed(folder: Path, order: AnalysisOrder, settings: Settings) -> Outcome:
    plans = read_plans(folder, largest_mb=settings.reading.largest_plan_mb)
    recording = _read(_laid_out(folder, order), order, plans, settings)
    if recording.recorded_at is None:
        recording = replace(recording, recorded_at=order.recorded_at, recorded_at_source="option")
    moment = _local(datetime.fromisoformat(str(recording.recorded_at)), order.time_zone)
    recording = replace(recording, recorded_at=moment.isoformat())
    day = plans.day_of(moment)
    version = plans.version_on(day)
    stage = None if version is None else version.plan.stage_on(day)
    if version is None or stage is None:
        raise _NotAnswered("no-stage", f"{recording.label}: {no_stage(day)}")
    try:
        session = _session(folder, recording, version, stage.name, order, settings)
    except CannotAnswerError as error:
        raise _NotAnswered("no-answer", str(error), version.file.name) from None
    _write(folder / MADE, session)
    return Outcome(plan_file=version.file.name, recorded_at=recording.recorded_at)


def _local(moment: datetime, time_zone: str) -> datetime:
    """Give a moment in UTC as the clinic's clocks show it, since its date is what people call the day; others stay."""
    return moment if moment.utcoffset() else moment.astimezone(ZoneInfo(time_zone))


def _session(
    folder: Path, recording: Recording, version: PlanVersion, stage: str, order: AnalysisOrder, settings: Settings
) -> SessionResult:
    plan = replace(version.plan, current_stage=stage)
    parts = []
    if order.exercise not in {"", WHOLE_SESSION}:
        # an unknown name is an error that lists those of the day
        meant = plan.exercise(order.exercise)
        if order.side in {"left", "right"} and meant.side != order.side:
            raise _NotAnswered(
                "other-side",
                f"{recording.label}: was said to be of the {order.side} leg, but the plan has {meant.name} on the "
                f"{meant.side} side; say the other leg, or correct the plan.",
                version.file.name,
            )
        parts = [AskedPart(meant.name)]
    inputs = [InputFile(Path(version.file.name).name, version.file.sha256, "plan")]
    marks: tuple[Mark, ...] = ()
    if (folder / MARKS).exists():
        try:
            marks, marks_file = read_marks(folder / MARKS, recording.files)
        except RecordingError as error:
            raise _NotAnswered("marks", str(error).replace(f"{folder}/", ""), version.file.name) from None
        inputs.append(marks_file)
    return analyse(recording, plan, parts=parts, settings=settings, marks=marks, inputs=inputs)


def _laid_out(folder: Path, order: AnalysisOrder) -> Path:
    """Put all files into one folder, archives unpacked."""
    limits = ArchiveLimits(order.archive_files, order.archive_mb, order.archive_ratio)
    into = folder / UNPACKED
    into.mkdir()
    sent = sorted((folder / SENT).iterdir())
    archives = [each for each in sent if is_archive(each)]
    if archives and len(sent) > 1:
        raise RecordingError(
            "is a zip file beside other files", where=archives[0].name, do="send either one zip file or the files"
        )
    if archives:
        unpack(archives[0], into, limits)
    else:
        for each in sent:
            each.rename(into / each.name)
    return into


def _read(folder: Path, order: AnalysisOrder, plans: CoursePlans, settings: Settings) -> Recording:
    found = find_recordings(folder)
    meant = _meant(order, plans)
    # the plan's sensors help to read a file where all exercises have the same
    points = {(each.proximal, each.distal) for each in meant if each.sensors == "both"}
    proximal, distal = next(iter(points)) if len(points) == 1 and len(meant) > 0 else (None, None)
    said = FileReading(**order.reading)
    if len(found) == 1:
        # a BIDS recording says it all itself
        more = {} if found[0].is_bids else said.options()
        options = DelimitedOptions(proximal=proximal, distal=distal, **more)
        return _told(read_recording(found[0].path, settings.reading, options), said if more else FileReading())
    if len(found) == 2:
        return _read_pair(found, (proximal, distal), said, settings)
    names = ", ".join(sorted(path.name for path in folder.rglob("*") if path.is_file())[:5])
    if not found:
        raise RecordingError(
            "there is no recording among the files: it must be text with columns (.csv, .tsv, .txt), or a _motion.tsv "
            "with the files beside it",
            where=names,
            do="send the file that the sensors' program exports",
        )
    raise RecordingError(
        f"must be one recording, or one file a sensor, got {len(found)}", where=names, do="send one session at a time"
    )


def _meant(order: AnalysisOrder, plans: CoursePlans) -> Sequence[Exercise]:
    named = [each for each in plans.exercises if each.name == order.exercise]
    return named or plans.exercises


def _told(recording: Recording, said: FileReading) -> Recording:
    """Have the result say by which words of the clinic its numbers were read."""
    if not said.says_something:
        return recording
    finding = Finding("read-as-said", "note", read_as_said(asdict(said)))
    return replace(recording, findings=(*recording.findings, finding))


def _read_pair(
    found: Sequence[FoundRecording], points: tuple[str | None, str | None], said: FileReading, settings: Settings
) -> Recording:
    """Read one file a sensor; which is which is said by their names alone."""
    words = [name or point for name, point in zip((said.proximal_name, said.distal_name), points, strict=True)]
    ordered = [[each for each in found if word and word.lower() in each.path.name.lower()] for word in words]
    if [len(each) for each in ordered] != [1, 1] or ordered[0] == ordered[1]:
        one, other = (repr(each) if each else "the sensor's place in the plan" for each in words)
        raise RecordingError(
            "there are two files, and their names don't say which sensor each is of: "
            f"one must hold {one}, the other {other}",
            where=", ".join(each.path.name for each in found),
            do="rename the files so, or send one file with both sensors",
        )
    options = DelimitedOptions(
        proximal_file=ordered[0][0].path, distal_file=ordered[1][0].path, proximal=points[0], distal=points[1]
    )
    if ordered[0][0].is_bids and ordered[1][0].is_bids:
        return read_recording(None, settings.reading, replace(options, clocks="separate"))
    options = replace(options, **said.options())
    if said.clocks:
        return _told(read_recording(None, settings.reading, replace(options, clocks=said.clocks)), said)
    return _told(_read_on_either_clock(options, settings), said)


def _read_on_either_clock(options: DelimitedOptions, settings: Settings) -> Recording:
    try:
        return read_recording(None, settings.reading, options)
    except RecordingError as error:
        # each sensor may have been started by itself
        try:
            return read_recording(None, settings.reading, replace(options, clocks="separate"))
        except ImuRomError:
            raise error from None


def _write(made: Path, session: SessionResult) -> None:
    document = result_document(session)
    traces = [each.trace for each in session.exercises]
    page = page_text(page_content(document, kept_traces(document.exercises, traces)), SCRIPT_GOES_HERE)
    blocks = {
        "result.json": [write_result(document)],
        "repetitions.csv": [repetition_table(document.exercises)],
        "sets.csv": [set_table(document.exercises)],
        "angle.csv": angles_table(document.exercises, traces),
        # the plotting script, five megabytes, is put in when the page is shown (`imu_rom.clinic.kept_pages`)
        "report.html": [page.encode()],
    }
    made.mkdir()
    for name, content in blocks.items():
        with (made / name).open("wb") as file:
            file.writelines(content)
