"""Write simulated sessions as a BIDS dataset that says that it is invented, with the truth beside them.

The truth lies in ``sourcedata/truth``, a place that BIDS leaves to the dataset.
"""

import json
import os
import secrets
import shutil
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from imu_rom.errors import OutputError
from imu_rom.exchange.fixed_decimals import NumberColumn, write_table
from imu_rom.exchange.folder import whole_folder
from imu_rom.exchange.plain_values import json_text, plain, rounded
from imu_rom.recording.bids_dataset import write_dataset_description, write_participants, write_readme
from imu_rom.recording.bids_writing import write_bids_motion
from imu_rom.recording.model import ReferenceChannel, Sensor
from imu_rom.simulation import SimulatedSession, Truth
from imu_rom.version import __version__

__all__ = ["add_simulated_session"]

GENERATOR = "imu-rom simulate"
REFERENCE = "true_angle"
INVENTED = "Invented data: simulated movement of invented people. No person was measured."
README = f"""# Invented home exercise sessions

{INVENTED}

Each recording holds two inertial sensors, worn on the two sides of one joint. `sourcedata/truth` holds, for each
recording, the true joint angle of every sample (`_angle.csv`), and the seed, all that was asked of the simulation and
what was really done (`_truth.json`). True angles are about the joint's true zero; the person's neutral pose is off it
by `zero_shift_deg`, so that an analysis that takes the pose as zero reads the true angle less that.
"""


def _sensors(session: SimulatedSession) -> list[Sensor]:
    """Rows as the logger wrote them: lost samples missing, doubled rows twice."""
    rows = session.rows
    return [
        replace(
            sensor,
            accelerometer_m_s2=sensor.accelerometer_m_s2[rows],
            gyroscope_rad_s=sensor.gyroscope_rad_s[rows],
            missing=session.lost[point][rows],
        )
        for point, sensor in session.recording.sensors.items()
    ]


def _written(
    session: SimulatedSession, *, recorded_at: str | None, with_stamps: bool, with_reference: bool
) -> list[dict[str, Any]]:
    """Give what each file holds: one for all sensors, or with separate clocks a tracking system for each."""
    if not session.logs:
        true_deg = np.asarray(session.truth.angle_deg)[session.rows]
        return [
            {
                "rate_hz": session.recording.rate_hz,
                "sensors": _sensors(session),
                "recorded_at": recorded_at,
                "latency_s": session.stamps_s if with_stamps else None,
                "references": [ReferenceChannel(REFERENCE, session.routine.joint, true_deg)] if with_reference else [],
            }
        ]
    if with_reference:
        raise OutputError("a reference has no clock of its own", do="leave --with-reference or the separate clock out")
    files = [
        {
            "tracking_system": "".join(letter for letter in point if letter.isascii() and letter.isalnum()),
            "rate_hz": log.rate_hz,
            "sensors": [replace(log.sensor, missing=log.lost)],
            "latency_s": log.stamps_s,
        }
        for point, log in session.logs.items()
    ]
    # when the other was started is what nobody knows
    return [files[0] | {"recorded_at": recorded_at}, *files[1:]]


def _truth(truth: Truth) -> dict[str, object]:
    body = truth.body
    return {
        "zero_shift_deg": truth.zero_shift_deg,
        "pose": truth.pose,
        "calibration": truth.calibration,
        "worn": truth.worn,
        "chair": truth.chair,
        "leaning": truth.leaning,
        "walking": truth.walking,
        "step_waits": truth.step_waits,
        "closing_poses": truth.closing_poses,
        "slips_deg": truth.slips_deg,
        "axis": tuple(body.axis.tolist()),
        "mounting_quaternions_xyzw": {which: tuple(each.as_quat().tolist()) for which, each in body.mountings.items()},
        "locked_share": dict(body.locked),
        "sets": truth.sets,
    }


@contextmanager
def _extended(folder: Path) -> Iterator[Path]:
    """Copy of an earlier dataset of ours, which takes its place when the block ends without an error."""
    folder = Path(os.path.abspath(folder))  # noqa: PTH100  a link's own name is kept
    try:
        described = json.loads((folder / "dataset_description.json").read_text("utf-8"))
        ours = described["GeneratedBy"][0]["Name"] == GENERATOR
    except (OSError, ValueError, LookupError, TypeError, RecursionError):
        ours = False
    if not ours or folder.is_symlink():
        raise OutputError("exists and is no simulated dataset", where=str(folder), do="name another folder")
    token = secrets.token_hex(4)
    filling, aside = (folder.with_name(f".{folder.name}.{token}.{word}") for word in ("filling", "replaced"))
    try:
        shutil.copytree(folder, filling)
        yield filling
        folder.rename(aside)
        filling.rename(folder)
    except OSError as error:
        raise OutputError(
            f"can't be written: {(error.strerror or str(error)).lower()}",
            where=str(folder),
            do="check the place and the space left there",
        ) from error
    finally:
        if aside.exists() and not folder.exists():
            aside.rename(folder)
        shutil.rmtree(filling, ignore_errors=True)
        shutil.rmtree(aside, ignore_errors=True)


def add_simulated_session(
    folder: Path,
    session: SimulatedSession,
    *,
    subject: str,
    asked: Mapping[str, object],
    session_label: str | None = None,
    run: str | None = None,
    recorded_at: str | None = None,
    with_stamps: bool = False,
    with_reference: bool = False,
    digits: int = 5,
) -> Path:
    """Write a simulated session into a new dataset, or add it to an earlier simulated one; whole or not at all.

    Parameters
    ----------
    folder : Path
        The dataset's folder.
    session : SimulatedSession
        What to write.
    subject : str
        BIDS subject label.
    asked : mapping of str to object
        What was asked of the simulation (seed, routine, person, ...), kept with the truth.
    session_label, run : str or None
        BIDS labels.
    recorded_at : str or None
        RFC 3339 time with offset of the first sample.
    with_stamps : bool
        True: the logger's stamps are written as a LATENCY channel.
    with_reference : bool
        True: the true joint angle is written as a JNTANG channel, as a perfect other measurement would be.
    digits : int
        Digits after the decimal point.

    Returns
    -------
    Path
        The ``_motion.tsv``; with separate clocks that of the proximal sensor.

    Raises
    ------
    OutputError
        The folder exists and is no simulated dataset, the recording exists in it, or it can't be written.
    """
    written = _written(session, recorded_at=recorded_at, with_stamps=with_stamps, with_reference=with_reference)
    exists = os.path.lexists(folder)
    with _extended(folder) if exists else whole_folder(folder) as filling:
        if not exists:
            generator = {"Name": GENERATOR, "Version": __version__, "Description": INVENTED}
            write_dataset_description(
                filling, name="Invented home exercise sessions", acknowledgements=INVENTED, generated_by=generator
            )
            write_readme(filling, README)
        motions = [
            write_bids_motion(
                filling,
                subject=subject,
                task=session.recording.task or session.routine.task,
                session=session_label,
                run=run,
                side=session.routine.side,
                events=session.recording.events,
                description=INVENTED,
                digits=digits,
                **each,
            )
            for each in written
        ]
        motion = motions[0]
        people = sorted(each.name for each in filling.glob("sub-*"))
        write_participants(filling, [{"participant_id": name} for name in people])
        stem = motion.name.removesuffix("_motion.tsv")
        beside = filling / "sourcedata" / "truth"
        beside.mkdir(parents=True, exist_ok=True)
        content: dict[str, object] = {"note": INVENTED, "asked": asked, "done": _truth(session.truth)}
        if session.wearings:
            content["done_each_time_worn"] = [_truth(each) for each in session.wearings]
        (beside / f"{stem}_truth.json").write_text(json_text(plain(rounded(content))), "utf-8")
        with (beside / f"{stem}_angle.csv").open("wb") as file:
            time_s, angle_deg = np.asarray(session.truth.time_s), np.asarray(session.truth.angle_deg)
            write_table(file, [NumberColumn("time_s", time_s, 3), NumberColumn("true_angle_deg", angle_deg, 3)])
    return folder / motion.relative_to(filling)
