"""Analyse the recordings of a course folder that have no result yet, or whose inputs changed since."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from pathlib import Path

from imu_rom.course.plans import CoursePlans
from imu_rom.course.recorded import ResultSummary, fingerprint, measured_files
from imu_rom.course.recordings import FoundRecording
from imu_rom.course.store import RESULTS, FileStamp, Index, StoredFailure
from imu_rom.dose.course_reading import Skipped
from imu_rom.dose.plan import Plan
from imu_rom.errors import CannotAnswerError, ImuRomError, OutputError, PlanError, RecordingError
from imu_rom.exchange.document import result_document
from imu_rom.exchange.folder import RESULT_FILES, whole_folder
from imu_rom.exchange.result import write_result
from imu_rom.exchange.tables import angles_table, repetition_table, set_table
from imu_rom.recording.bids_sidecars import recorded_at_of
from imu_rom.recording.model import InputFile, Recording
from imu_rom.settings import Settings
from imu_rom.version import __version__

__all__ = ["Asked", "NewRecordings", "Told", "analyse_new", "no_stage", "result_names"]

Told = Callable[[int, int, str], None]


@dataclass(frozen=True)
class Asked:
    """What a recording is analysed by.

    Parameters
    ----------
    plan : Plan
        The version of its day, with the stage of its day as the current one.
    file : InputFile
        That version's file.
    settings : Settings
        All settings, the plan's own uncertainty not yet put in.
    settings_files : tuple of InputFile
        The settings file, where there is one.
    """

    plan: Plan
    file: InputFile
    settings: Settings
    settings_files: tuple[InputFile, ...] = ()

    @property
    def settings_sha256(self) -> str:
        """Fingerprint of the settings as a result has them."""
        own = self.plan.own_uncertainty
        settings = self.settings
        if own is not None:
            settings = replace(settings, uncertainty=own.applied_to(settings.uncertainty))
        return fingerprint(settings.as_mapping())

    @property
    def prescriptions(self) -> dict[tuple[str, str], str]:
        """Fingerprint of each exercise of the stage, by name and side."""
        return {(each.name, each.side): fingerprint(each) for each in self.plan.stage.exercises}


@dataclass(frozen=True)
class NewRecordings:
    """What came of the recordings of a folder.

    Parameters
    ----------
    analysed : tuple of str
        Places of those that were analysed now.
    waiting : tuple of str
        Places of those that would have to be, and were left.
    skipped : tuple of Skipped
        Those that can't be used.
    """

    analysed: tuple[str, ...]
    waiting: tuple[str, ...]
    skipped: tuple[Skipped, ...]


@dataclass(frozen=True)
class _Known:
    """A recording, its files' SHA-256 by name, and the results that are of the same samples."""

    found: FoundRecording
    files: dict[str, str]
    results: tuple[ResultSummary, ...]

    @property
    def samples(self) -> str:
        return self.files[self.found.path.name]


class _NotUsed(Exception):  # noqa: N818  never leaves this module
    def __init__(self, code: str, why: str) -> None:
        self.code = code
        self.why = why
        super().__init__(why)


def analyse_new(
    folder: Path,
    recordings: Sequence[FoundRecording],
    plans: CoursePlans,
    index: Index,
    settings: Settings,
    *,
    settings_files: tuple[InputFile, ...] = (),
    analyse: bool = True,
    told: Told | None = None,
) -> NewRecordings:
    """Analyse what is new or changed, and write each result into ``results/``.

    Parameters
    ----------
    folder : Path
        The course folder.
    recordings : sequence of FoundRecording
        Its recordings.
    plans : CoursePlans
        Its plans.
    index : Index
        What is remembered, its results up to date; failures and files are brought up to date.
    settings : Settings
        All settings.
    settings_files : tuple of InputFile
        The settings file, where there is one.
    analyse : bool
        False: only tell which recordings would have to be analysed.
    told : callable, optional
        Called with how many are done, how many there are, and the name of the next one.

    Returns
    -------
    NewRecordings
        A recording that can't be analysed costs no other.

    Raises
    ------
    OutputError
        A result can't be written.
    """
    stamp = FileStamp(folder, index.files)
    skipped: list[Skipped] = []
    to_do: list[tuple[_Known, Asked | None]] = []
    places: dict[str, str] = {}
    failures, index.failures = index.failures, {}
    results = _by_samples(index)
    for found in recordings:
        files = {each.name: stamp.sha256(each) for each in found.files}
        known = _Known(found, files, tuple(results.get(files[found.path.name], ())))
        first = places.setdefault(known.samples, found.place)
        if first != found.place:
            why = f"is the same as {first}, so it counts once."
            skipped.append(Skipped("recording", found.place, "repeated-recording", why))
            continue
        try:
            asked = _asked(known, plans, index, (settings, settings_files))
        except _NotUsed as fault:
            skipped.append(Skipped("recording", found.place, fault.code, fault.why))
            continue
        if any(each.by_hand or (asked is not None and _is_current(each, known, asked)) for each in known.results):
            continue
        failure = failures.get(found.place)
        if asked is not None and failure is not None and failure.asked_sha256 == _asked_sha256(known, asked):
            index.failures[found.place] = failure
            skipped.append(Skipped("recording", found.place, failure.code, failure.why))
        else:
            to_do.append((known, asked))
    index.files = {place: each for place, each in index.files.items() if place in stamp.seen}
    if not analyse:
        return NewRecordings((), tuple(known.found.place for known, _ in to_do), tuple(skipped))
    names = result_names(recordings)
    analysed = []
    for number, (known, asked) in enumerate(to_do):
        if told is not None:
            told(number, len(to_do), known.found.path.name)
        place = known.found.place
        try:
            _analyse_one(folder / RESULTS / names[place], known, asked, plans, index, (settings, settings_files))
            analysed.append(place)
        except _NotUsed as fault:
            skipped.append(Skipped("recording", place, fault.code, fault.why))
    return NewRecordings(tuple(analysed), (), tuple(skipped))


def _by_samples(index: Index) -> dict[str, list[ResultSummary]]:
    results: dict[str, list[ResultSummary]] = {}
    for each in index.results.values():
        for sha256 in measured_files(each.summary.inputs):
            results.setdefault(sha256, []).append(each.summary)
    return results


def result_names(recordings: Sequence[FoundRecording]) -> dict[str, str]:
    """Name the folder below ``results/`` of each recording.

    Parameters
    ----------
    recordings : sequence of FoundRecording
        All of the course folder.

    Returns
    -------
    dict of str to str
        By place; where two would have the same name, each has a part of its place's fingerprint behind it.
    """
    names = [each.result_name for each in recordings]
    return {
        each.place: name if names.count(name) == 1 else f"{name}-{fingerprint(each.place)[:8]}"
        for each, name in zip(recordings, names, strict=True)
    }


def _asked(
    known: _Known, plans: CoursePlans, index: Index, settings: tuple[Settings, tuple[InputFile, ...]]
) -> Asked | None:
    """Tell what a recording is analysed by; None where its samples must be read to know when it was made."""
    found = known.found
    if not plans.latest.is_for(found.subject):
        raise _NotUsed(
            "other-patient",
            f"is of subject {found.subject!r}, but the plan is for {plans.latest.patient or plans.latest.subject!r}; "
            "put it in that person's folder.",
        )
    if found.is_bids:
        try:
            recorded_at, _ = recorded_at_of(found.path, [])
        except RecordingError as error:
            raise _NotUsed("bad-time", str(error)) from None
    else:
        recorded_at = next((each.recorded_at for each in known.results), index.times.get(known.samples))
        if recorded_at is None:
            return None
    return _asked_at(recorded_at, plans, settings)


def _asked_at(recorded_at: str | None, plans: CoursePlans, settings: tuple[Settings, tuple[InputFile, ...]]) -> Asked:
    if recorded_at is None:
        raise _NotUsed(
            "no-time",
            "does not say when it was made; add its acq_time with an offset from UTC to its _scans.tsv, or analyse it "
            "with --recorded-at into results/.",
        )
    day = plans.day_of(datetime.fromisoformat(recorded_at))
    version = plans.version_on(day)
    stage = None if version is None else version.plan.stage_on(day)
    if version is None or stage is None:
        raise _NotUsed("no-stage", no_stage(day))
    return Asked(replace(version.plan, current_stage=stage.name), version.file, *settings)


def no_stage(day: date) -> str:
    """Say that nothing was prescribed on a day.

    Parameters
    ----------
    day : date
        The day.

    Returns
    -------
    str
        A sentence.
    """
    return f"was made on {day}, when no stage of the plan applied; correct the plan's dates, or the recording's time."


def _is_current(result: ResultSummary, known: _Known, asked: Asked) -> bool:
    """Tell whether a result is what an analysis now would give: of these files, by this plan, settings and program."""
    read = {
        each.name: each.sha256
        for each in result.inputs
        if each.role == "recording" and not each.name.endswith("_scans.tsv")
    }
    # what is said about events is read by some recordings only
    files = {name: each for name, each in known.files.items() if name in read or not name.endswith("_events.json")}
    asks = asked.prescriptions
    return (
        read == files
        and result.program_version == __version__
        and result.settings_sha256 == asked.settings_sha256
        and result.stage == asked.plan.stage.name
        and result.patient == asked.plan.patient
        and all(asks.get((each.name, each.side)) == each.prescription_sha256 for each in result.exercises)
        and (not known.found.is_bids or result.recorded_at == recorded_at_of(known.found.path, [])[0])
    )


def _asked_sha256(known: _Known, asked: Asked) -> str:
    return fingerprint(
        [
            known.files,
            [*asked.prescriptions.values()],
            asked.plan.stage.name,
            asked.plan.patient,
            asked.settings_sha256,
            __version__,
        ]
    )


def _analyse_one(
    out: Path,
    known: _Known,
    asked: Asked | None,
    plans: CoursePlans,
    index: Index,
    settings: tuple[Settings, tuple[InputFile, ...]],
) -> None:
    from imu_rom.session import analyse  # noqa: PLC0415  a course without anything new needs no analysis

    try:
        recording = _read(known.found, asked, plans, settings[0])
        if asked is None:
            asked = _asked_at(recording.recorded_at, plans, settings)
            index.times[known.samples] = str(recording.recorded_at)
        plan_file = replace(asked.file, name=Path(asked.file.name).name)
        session = analyse(recording, asked.plan, settings=asked.settings, inputs=(plan_file, *asked.settings_files))
    except OutputError:
        raise
    except ImuRomError as error:
        code = _CODES.get(type(error), "not-usable")
        if asked is not None:
            index.failures[known.found.place] = StoredFailure(_asked_sha256(known, asked), code, str(error))
        raise _NotUsed(code, str(error)) from None
    document = result_document(session)
    blocks = {
        "result.json": [write_result(document)],
        "repetitions.csv": [repetition_table(document.exercises)],
        "sets.csv": [set_table(document.exercises)],
        "angle.csv": angles_table(document.exercises, [each.trace for each in session.exercises]),
    }
    out.parent.mkdir(exist_ok=True)
    with whole_folder(out, overwrite=True, files=RESULT_FILES) as filling:
        for name, content in blocks.items():
            with (filling / name).open("wb") as file:
                file.writelines(content)


_CODES: dict[type[ImuRomError], str] = {
    PlanError: "not-of-the-plan",
    RecordingError: "unreadable-recording",
    CannotAnswerError: "no-answer",
}


def _read(found: FoundRecording, asked: Asked | None, plans: CoursePlans, settings: Settings) -> Recording:
    from imu_rom.recording.delimited import DelimitedOptions  # noqa: PLC0415  as above
    from imu_rom.recording.reading import read_recording  # noqa: PLC0415

    exercises = plans.exercises if asked is None else asked.plan.stage.exercises
    # the plan's sensors help to read a file where all exercises have the same
    points = {(each.proximal, each.distal) for each in exercises if each.sensors == "both"}
    proximal, distal = next(iter(points)) if len(points) == 1 and len(exercises) > 0 else (None, None)
    options = DelimitedOptions(proximal=proximal, distal=distal)
    return read_recording(found.path, settings.reading, options)
