"""What was read of a course: how much there was, and what could not be used, named and counted."""

from dataclasses import dataclass
from typing import Literal

from imu_rom.recording.model import InputFile

__all__ = ["CourseReading", "Kind", "Skipped"]

Kind = Literal["recording", "result", "exercise of a result", "diary line", "diary value"]


@dataclass(frozen=True, order=True)
class Skipped:
    """One thing that was not used.

    Parameters
    ----------
    kind : {"recording", "result", "exercise of a result", "diary line", "diary value"}
        What it is; what is counted together.
    where : str
        File within the course folder, with line and column where that says more.
    code : str
        Stable lower-case words joined by hyphens, for other programs (``"other-patient"``).
    why : str
        What is wrong and what to do, in one sentence without its place.
    """

    kind: Kind
    where: str
    code: str
    why: str


@dataclass(frozen=True)
class CourseReading:
    """How much of a course there was to read.

    Parameters
    ----------
    recordings, results, diary_lines : int
        How many were found, those not used included.
    analysed : tuple of str
        Places of the recordings that were analysed now.
    waiting : tuple of str
        Places of those that were left because no analysis was wanted.
    skipped : tuple of Skipped
        What was not used.
    inputs : tuple of InputFile
        Plans, diary and results that were read.
    """

    recordings: int
    results: int
    diary_lines: int
    analysed: tuple[str, ...]
    waiting: tuple[str, ...]
    skipped: tuple[Skipped, ...]
    inputs: tuple[InputFile, ...]
