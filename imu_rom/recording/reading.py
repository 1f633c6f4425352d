"""Read a recording, whatever its format, and check it."""

from dataclasses import fields, replace
from datetime import datetime
from pathlib import Path

from imu_rom.errors import RecordingError
from imu_rom.findings import Finding
from imu_rom.recording.bids import read_bids_motion, read_bids_pair
from imu_rom.recording.delimited import DelimitedOptions, read_delimited
from imu_rom.recording.model import Recording
from imu_rom.recording.quality import check_recording
from imu_rom.settings import ReadingSettings

__all__ = ["read_recording"]

# beside a BIDS recording, and often named in its place
_SIDECARS = ("_channels.tsv", "_channels.json", "_motion.json", "_events.tsv", "_scans.tsv")


def read_recording(
    path: Path | None,
    settings: ReadingSettings,
    options: DelimitedOptions | None = None,
    *,
    recorded_at: str | None = None,
) -> Recording:
    """Read a recording and check it.

    Parameters
    ----------
    path : Path or None
        A ``_motion.tsv`` of a BIDS Motion triplet, a folder that holds exactly one, or one delimited file; None where
        ``options`` names one file a sensor, delimited or BIDS.
    settings : ReadingSettings
        Limits of size, rate, duration and missing data.
    options : DelimitedOptions or None
        What delimited files don't say. Its ``proximal`` and ``distal`` name the sensors that will be used, in any
        format: where the recording has both, others are not checked.
    recorded_at : str or None
        RFC 3339 time with offset of the first sample; goes before what the data say.

    Returns
    -------
    Recording
        In SI units, on an even time base, with the findings of reading and checking.

    Raises
    ------
    RecordingError
        It can't be read, or nothing can be measured from it.
    CannotAnswerError
        The clocks are said to be separate, and nothing tells how they lie.
    """
    options = options or DelimitedOptions()
    if path is None:
        if options.proximal_file is None and options.distal_file is None:
            raise RecordingError("no recording was named", do="name a recording, or one file a sensor")
        recording = _read_pair(settings, options)
    elif path.is_dir() or path.name.endswith("_motion.tsv"):
        _refuse_options(options)
        recording = read_bids_motion(path, settings, separate_clocks=options.clocks == "separate")
    else:
        if path.name.endswith(_SIDECARS):
            raise RecordingError("is a sidecar, not a recording", where=path.name, do="name the _motion.tsv")
        recording = read_delimited(path, settings, options)
    if recorded_at is not None:
        recording = _dated(recording, recorded_at)
    named = [point for point in (options.proximal, options.distal) if point is not None]
    used = [point for point in named if point in recording.sensors]
    found = check_recording(recording, settings, used if used and len(used) == len(named) else None)
    return replace(recording, findings=(*recording.findings, *found))


def _read_pair(settings: ReadingSettings, options: DelimitedOptions) -> Recording:
    """Read one file a sensor: two delimited files, or two tracking systems of a BIDS dataset."""
    pair = (options.proximal_file, options.distal_file)
    are_bids = [each is not None and (each.is_dir() or each.name.endswith("_motion.tsv")) for each in pair]
    if pair[0] is None or pair[1] is None or not any(are_bids):
        return read_delimited(None, settings, options)
    where = ", ".join(each.name for each in pair if each is not None)
    if not all(are_bids):
        raise RecordingError("one file is a BIDS recording and the other is not", where=where, do="give two alike")
    if options.clocks != "separate":
        raise RecordingError(
            "two BIDS recordings don't say that they share a clock",
            where=where,
            do="add --clocks separate, or join both sensors in one recording",
        )
    _refuse_options(options)
    return read_bids_pair(pair[0], pair[1], settings)


def _refuse_options(options: DelimitedOptions) -> None:
    """Refuse what a BIDS recording's sidecars already say."""
    plain = DelimitedOptions(
        proximal_file=options.proximal_file,
        distal_file=options.distal_file,
        proximal=options.proximal,
        distal=options.distal,
        clocks=options.clocks,
    )
    given = [each.name for each in fields(options) if getattr(options, each.name) != getattr(plain, each.name)]
    if given:
        words = ", ".join("--" + name.removesuffix("_hz").replace("_", "-") for name in given)
        raise RecordingError(
            f"{words} can't be given with a BIDS recording", do="correct its _channels.tsv or _motion.json instead"
        )


def _dated(recording: Recording, recorded_at: str) -> Recording:
    try:
        moment = datetime.fromisoformat(recorded_at)
    except ValueError:
        moment = None
    if moment is None or moment.tzinfo is None:
        raise RecordingError(
            f"must be a time with its offset from UTC, such as 2026-12-01T08:00:00+01:00, got {recorded_at!r}",
            where="--recorded-at",
        )
    findings = recording.findings
    if recording.recorded_at is not None and datetime.fromisoformat(recording.recorded_at) != moment:
        sentence = f"The time given, {recorded_at}, was used instead of {recording.recorded_at}, which the data say."
        findings = (*findings, Finding("time-replaced", "note", sentence))
    return replace(recording, recorded_at=moment.isoformat(), recorded_at_source="option", findings=findings)
