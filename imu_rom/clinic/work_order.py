"""What a worker asks of a child process and what comes back: small files in a folder that both see, nothing else.

The child is given copies of what it needs and no way to the database, the stored files or their key, so that what a
patient sent, however it is made, reaches nothing but its own folder.
"""

import json
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any, Literal, Self

__all__ = ["MADE", "MARKS", "SENT", "SESSION_PAGES", "AnalysisOrder", "CourseOrder", "Outcome", "Task"]

SENT, MADE, MARKS = "sent", "made", "marks.json"
SESSION_PAGES = "sessions.json"
"""In ``made``: fingerprints of the reports that were made, by recording; each lies beside it by its recording."""
_ORDER, _OUTCOME = "order.json", "outcome.json"

Task = Literal["analyse", "course"]


@dataclass(frozen=True)
class AnalysisOrder:
    """One recording to be analysed: its files lie in ``sent``, the plans in ``plans``, marks in ``marks.json``.

    Parameters
    ----------
    exercise : str
        As the patient says: a name of the plan, or ``session`` for all of the day.
    side : str
        ``left`` or ``right``; else nothing is said.
    recorded_at : str
        When it was made, where its files don't say: RFC 3339 with offset.
    time_zone : str
        Where the clinic's people live, by its IANA name.
    archive_files : int
        How many files an archive may hold.
    archive_mb : float
        Size that it may unpack to.
    archive_ratio : float
        How many times that may be of its own.
    reading : dict of str to str
        Fields of `imu_rom.clinic.file_readings.FileReading`.
    """

    exercise: str
    side: str
    recorded_at: str
    time_zone: str
    archive_files: int
    archive_mb: float
    archive_ratio: float
    reading: dict[str, str] = field(default_factory=dict)

    def write(self, folder: Path) -> None:
        """Write the order.

        Parameters
        ----------
        folder : Path
            The job's.
        """
        _write(folder / _ORDER, self)

    @classmethod
    def read(cls, folder: Path) -> Self:
        """Read the order.

        Parameters
        ----------
        folder : Path
            The job's.

        Returns
        -------
        AnalysisOrder
            As it was written.
        """
        return cls(**_read(folder / _ORDER))


@dataclass(frozen=True)
class CourseOrder:
    """A course to be summed up: plans, diary and results lie in ``course`` as the library has them.

    Parameters
    ----------
    today : str
        The clinic's day; later ones are not looked at.
    language : str
        The patient's.
    last_result : str or None
        Place of the newest session's ``result.json`` within ``course``.
    sessions : dict of str to str
        Recordings whose reports are to be made, each with the fingerprint of the report that there is, or nothing.
    """

    today: str
    language: str
    last_result: str | None
    sessions: dict[str, str]

    def write(self, folder: Path) -> None:
        """Write the order.

        Parameters
        ----------
        folder : Path
            The job's.
        """
        _write(folder / _ORDER, self)

    @classmethod
    def read(cls, folder: Path) -> Self:
        """Read the order.

        Parameters
        ----------
        folder : Path
            The job's.

        Returns
        -------
        CourseOrder
            As it was written.
        """
        return cls(**_read(folder / _ORDER))


@dataclass(frozen=True)
class Outcome:
    """What came of it.

    Parameters
    ----------
    code : str
        Empty where it was answered; else stable words for why not.
    why : str
        The sentence, for people.
    plan_file : str or None
        Which plan it was analysed by.
    recorded_at : str or None
        When the recording was made.
    """

    code: str = ""
    why: str = ""
    plan_file: str | None = None
    recorded_at: str | None = None

    def write(self, folder: Path) -> None:
        """Write the outcome, after all else.

        Parameters
        ----------
        folder : Path
            The job's.
        """
        _write(folder / _OUTCOME, self)

    @classmethod
    def read(cls, folder: Path) -> Self:
        """Read the outcome.

        Parameters
        ----------
        folder : Path
            The job's.

        Returns
        -------
        Outcome
            As it was written.

        Raises
        ------
        OSError, ValueError, TypeError
            The child wrote none, or another thing.
        """
        return cls(**_read(folder / _OUTCOME))


def _write(path: Path, value: Any) -> None:  # noqa: ANN401
    path.write_text(json.dumps(asdict(value)), "utf-8")


def _read(path: Path) -> dict[str, Any]:
    values: dict[str, Any] = json.loads(path.read_bytes())
    return values
