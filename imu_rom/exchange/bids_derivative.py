"""The joint angle as a BIDS derivative: ``derivatives/imu_rom`` below a folder that a BIDS dataset may take it from.

``_motion.tsv`` holds the time of each sample (LATENCY), and for each exercise the joint angle (JNTANG) with its
standard uncertainty and the part of that which the session shares (MISC), all in degrees; ``n/a`` where another
exercise was under way. ``_events.tsv`` holds the neutral pose, the calibration movement, sets and repetitions. Names
have no ``desc-``: the standard has none for motion.

References
----------
Brain Imaging Data Structure specification 1.10, "Derivatives", and Motion (extension proposal 29).
"""

import os
from collections.abc import Iterator, Sequence
from pathlib import Path

import numpy as np

from imu_rom.errors import OutputError, ResultError
from imu_rom.exchange.angle_file import AngleFile, read_angle_file
from imu_rom.exchange.bids_names import BidsName, bids_names
from imu_rom.exchange.document import ExerciseAnswer, ResultDocument
from imu_rom.exchange.exported import Exported, ExportedResult
from imu_rom.exchange.folder import whole_folder
from imu_rom.exchange.result_layout import repetition_to_layout, set_to_layout
from imu_rom.exchange.spreadsheet_cells import cell_of
from imu_rom.exchange.tidy_columns import REPETITIONS, SETS, Column
from imu_rom.recording.bids_dataset import (
    as_json,
    as_rows,
    write_dataset_description,
    write_participants,
    write_readme,
)
from imu_rom.recording.bids_writing import add_scan, bids_moment
from imu_rom.recording.formatting import format_numbers
from imu_rom.version import __version__

__all__ = ["EVENT_COLUMNS", "write_bids_derivative"]

FOLDER = Path("derivatives") / "imu_rom"
GENERATOR = "imu-rom"
TOP_FILES = ("dataset_description.json", "README.md", "derivatives")
# the time of a sample has four decimals, the angle three
DECIMALS = 4
CHANNEL_COLUMNS = ("name", "component", "type", "tracked_point", "units", "description")

README = """\
# Joint angles

Made by imu-rom from recordings of two motion sensors. It measures angle and time, never tissue load, and diagnoses
nothing. `_motion.tsv` holds the joint angle over time with its standard uncertainty, `_events.tsv` sets and
repetitions with what was answered of each; `_channels.tsv` and the `.json` files say what each column means.
An angle's error from the neutral pose is shared by a whole recording: it does not average out over its samples.
"""

_BY_NAME = {each.name: each for each in (*SETS.columns, *REPETITIONS.columns)}
EVENT_COLUMNS: tuple[Column, ...] = tuple(
    _BY_NAME[name]
    for name in (
        "part",
        "exercise",
        "side",
        "set",
        "repetition",
        "complete",
        "end_range_deg",
        "end_range_low_deg",
        "end_range_high_deg",
        "hold_s",
        "past_threshold_s",
        "past_threshold_low_s",
        "past_threshold_high_s",
        "excess_deg_s",
        "reached",
        "within_limit",
        "verdict",
    )
)
"""Columns of ``_events.tsv`` behind those that BIDS asks for; the same as in the tables."""

OF_A_SET = (
    "set",
    "hold_s",
    "past_threshold_s",
    "past_threshold_low_s",
    "past_threshold_high_s",
    "excess_deg_s",
    "verdict",
)
EVENT_TYPES = {
    "neutral pose": "The pose that gives the angle's zero",
    "calibration movement": "The movement after it that tells which way is positive",
    "set": "A set, from its first repetition's start to its last one's stop",
    "repetition": "A repetition, or a hold",
}


def write_bids_derivative(exported: Exported, out: Path, *, overwrite: bool = False) -> None:
    """Write the joint angles of results as a BIDS derivative.

    Parameters
    ----------
    exported : Exported
        What goes out; results without samples don't.
    out : Path
        Folder to be written.
    overwrite : bool
        True where an earlier export may be replaced.

    Raises
    ------
    OutputError
        It can't be written there, or the folder holds other derivatives.
    ResultError
        No result has samples, or an ``angle.csv`` can't be read.
    """
    results = [each for each in exported.results if each.angle_file is not None]
    if not results:
        raise ResultError(
            "no result has an angle.csv beside it, so there is no angle to go out as BIDS",
            do="analyse the recordings again with imu-rom analyse --out",
        )
    if overwrite:
        _check_derivatives(out)
    with whole_folder(out, overwrite=overwrite, files=TOP_FILES) as folder:
        names = bids_names(results)
        generator = {"Name": GENERATOR, "Version": __version__}
        write_dataset_description(
            folder, name="Joint angles", license_name="", generated_by=generator, dataset_type="study"
        )
        derivative = folder / FOLDER
        write_dataset_description(
            derivative, name="Joint angles", license_name="", generated_by=generator, dataset_type="derivative"
        )
        for each in (folder, derivative):
            write_readme(each, README)
        people = sorted({each.subject for each in names})
        write_participants(derivative, [{"participant_id": f"sub-{each}"} for each in people])
        for name, result in zip(names, results, strict=True):
            _write_result(derivative, name, result)


def _check_derivatives(out: Path) -> None:
    """Replace no derivatives of other programs."""
    folder = Path(os.path.abspath(out)) / FOLDER.parent  # noqa: PTH100  as the folder itself is looked at
    strangers = sorted({each.name for each in folder.iterdir()} - {FOLDER.name}) if folder.is_dir() else []
    if strangers:
        raise OutputError(
            f"is not replaced, because its derivatives hold {strangers[0]!r}, which is of another program",
            where=str(out),
            do="name another folder",
        )


def _write_result(derivative: Path, name: BidsName, result: ExportedResult) -> None:
    document = result.document
    angle = read_angle_file(result.angle_file, document)  # type: ignore[arg-type]  # only those with one come here
    folder = derivative / name.folder
    folder.mkdir(parents=True, exist_ok=True)
    base = folder / name.stem
    channels, samples = _channels(document, angle)
    base.with_name(f"{name.stem}_channels.tsv").write_text(as_rows([CHANNEL_COLUMNS, *channels]), "utf-8")
    base.with_name(f"{name.stem}_motion.json").write_text(as_json(_sidecar(name, document, channels)), "utf-8")
    motion = base.with_name(f"{name.stem}_motion.tsv")
    with motion.open("wb") as file:
        file.writelines(format_numbers(samples, DECIMALS))
    _write_events(base.with_name(f"{name.stem}_events.tsv"), document.exercises)
    moment = bids_moment(document.recording.recorded_at)
    if moment is not None:
        add_scan(folder.parent, name.prefix, motion, moment)


def _channels(document: ResultDocument, angle: AngleFile) -> tuple[list[list[str]], np.ndarray]:
    rows = [["latency", "n/a", "LATENCY", "n/a", "s", "Time from the recording's start"]]
    columns = [angle.trace.time_s]
    several = len(document.exercises) > 1
    for part, answer in enumerate(document.exercises):
        own = angle.part == part
        exercise = answer.exercise
        joint = f"{exercise.joint}_{exercise.side}"
        name = f"{joint}_{exercise.motion}" + (f"_{part + 1}" if several else "")
        whose = f"{exercise.joint} {exercise.motion}, {exercise.side}, of {exercise.name}"
        for end, kind, values, words in (
            ("", "JNTANG", angle.trace.angle_deg, f"Angle of {whose}"),
            ("_uncertainty", "MISC", angle.trace.standard_uncertainty_deg, "Standard uncertainty of that, all parts"),
            (
                "_shared_uncertainty",
                "MISC",
                angle.trace.zero_standard_uncertainty_deg,
                "The part of that which the whole recording shares",
            ),
        ):
            cells = (f"{name}{end}", "n/a", kind, joint, "deg", words)
            rows.append([_cell(each) for each in cells])
            columns.append(np.where(own, values, np.nan))
    return rows, np.column_stack(columns)


def _sidecar(name: BidsName, document: ResultDocument, channels: Sequence[Sequence[str]]) -> dict[str, object]:
    rate_hz = document.recording.rate_hz
    kinds = [each[2] for each in channels]
    return {
        "Description": "Joint angle from two motion sensors with its standard uncertainty",
        "TaskName": name.task,
        "SamplingFrequency": int(rate_hz) if float(rate_hz).is_integer() else rate_hz,
        "SoftwareVersions": f"{GENERATOR} {document.program_version}",
        "TrackingSystemName": name.tracking_system,
        "TrackedPointsCount": len({each[3] for each in channels if each[2] == "JNTANG"}),
        "MotionChannelCount": len(kinds),
        **{f"{kind}ChannelCount": kinds.count(kind) for kind in ("JNTANG", "LATENCY", "MISC")},
        "MissingValues": "n/a",
    }


def _cell(text: str) -> str:
    """Write text as a cell of a table that knows no quotes."""
    words = " ".join(text.split())
    return cell_of(words.encode("utf-8", "replace").decode())


def _write_events(file: Path, answers: Sequence[ExerciseAnswer]) -> None:
    events = sorted(
        (each for part, answer in enumerate(answers, start=1) for each in _events(part, answer)),
        key=lambda each: (each[0], -each[1]),
    )
    rows = [("onset", "duration", "trial_type", *(each.name for each in EVENT_COLUMNS))]
    for onset_s, duration_s, kind, values in events:
        cells = [cell_of(values.get(each.name), each.unit) for each in EVENT_COLUMNS]
        # a time that the other columns have, and no digit more
        rows.append((cell_of(onset_s, "s"), f"{duration_s:.3f}", kind, *map(_one_line, cells)))
    file.write_text(as_rows(rows), "utf-8")
    meanings: dict[str, object] = {"trial_type": {"Description": "What it is", "Levels": EVENT_TYPES}}
    for each in EVENT_COLUMNS:
        units = {"Units": each.unit} if each.unit not in {"", "1"} else {}
        meanings[each.name] = {"Description": f"{each.meaning[:1].upper()}{each.meaning[1:]}", **units}
    file.with_suffix(".json").write_text(as_json(meanings), "utf-8")


def _one_line(cell: str) -> str:
    return " ".join(cell.split()).encode("utf-8", "replace").decode()


Event = tuple[float, float, str, dict[str, object]]


def _events(part: int, answer: ExerciseAnswer) -> Iterator[Event]:
    whose: dict[str, object] = {"part": part, "exercise": answer.exercise.name, "side": answer.exercise.side}

    def event(kind: str, start_s: float, stop_s: float, values: dict[str, object]) -> Event:
        return start_s, stop_s - start_s, kind, {**values, **whose}

    yield event("neutral pose", answer.zero.start_s, answer.zero.stop_s, {})
    start_s, stop_s = answer.alignment.calibration_start_s, answer.alignment.calibration_stop_s
    if start_s is not None and stop_s is not None:
        yield event("calibration movement", start_s, stop_s, {})
    for done in answer.comparison.sets:
        # what a set counts has another meaning than the same word of a repetition
        yield event("set", done.start_s, done.stop_s, {name: set_to_layout(done)[name] for name in OF_A_SET})
        for each in done.repetitions:
            movement = each.repetition
            yield event(
                "repetition", movement.start_s, movement.stop_s, {"set": done.number, **repetition_to_layout(each)}
            )
