"""Names of results in a BIDS dataset: those of their recordings, or labels made of what is known."""

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from imu_rom.exchange.exported import ExportedResult

__all__ = ["BidsName", "bids_names"]

NOBODY, NO_TASK, TRACKING_SYSTEM = "unnamed", "exercise", "imu"
_LABEL = "[0-9A-Za-z]+"
_RECORDING = re.compile(
    rf"sub-{_LABEL}(?:_ses-(?P<session>{_LABEL}))?_task-(?P<task>{_LABEL})_tracksys-(?P<system>{_LABEL})"
    rf"(?:_acq-{_LABEL})?(?:_run-(?P<run>[0-9]+))?"
)


@dataclass(frozen=True)
class BidsName:
    """Labels of one recording.

    Parameters
    ----------
    subject, task, tracking_system : str
        Letters and digits.
    session, run : str or None
        None where there is but one.
    """

    subject: str
    task: str
    tracking_system: str
    session: str | None = None
    run: str | None = None

    @property
    def prefix(self) -> str:
        """What names of the session begin with."""
        return f"sub-{self.subject}" + ("" if self.session is None else f"_ses-{self.session}")

    @property
    def folder(self) -> Path:
        """Where its files lie in the dataset."""
        return Path(*self.prefix.split("_")) / "motion"

    @property
    def stem(self) -> str:
        """What its files' names begin with."""
        run = "" if self.run is None else f"_run-{self.run}"
        return f"{self.prefix}_task-{self.task}_tracksys-{self.tracking_system}{run}"


def _label(text: str | None) -> str:
    return "".join(letter for letter in text or "" if letter.isascii() and letter.isalnum())


def bids_names(results: Sequence[ExportedResult]) -> tuple[BidsName, ...]:
    """Name results as BIDS does.

    Parameters
    ----------
    results : sequence of ExportedResult
        In order of time.

    Returns
    -------
    tuple of BidsName
        No two alike, also where capitals make no difference.
    """
    taken: set[str] = set()
    names = []
    for each in results:
        name = _name(each, alone=len(results) == 1)
        number = int(name.run or 0)
        while name.stem.lower() in taken:
            number += 1
            name = replace(name, run=f"{number:02d}")
        taken.add(name.stem.lower())
        names.append(name)
    return tuple(names)


def _name(result: ExportedResult, *, alone: bool) -> BidsName:
    document = result.document
    recording = document.recording
    subject = _label(document.bids_subject) or _label(document.patient) or _label(recording.subject) or NOBODY
    # two files with separate clocks are one recording, named by the first
    known = _RECORDING.fullmatch(recording.label.split(" + ")[0])
    if known:
        return BidsName(subject, known["task"], known["system"], known["session"], known["run"])
    task = _label(recording.task) or (_label(document.exercises[0].exercise.name) if document.exercises else "")
    session = None if alone else _label(result.session) or "unnamed"
    return BidsName(subject[:60], (task or NO_TASK)[:60], TRACKING_SYSTEM, session and session[:60])
