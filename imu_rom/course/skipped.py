"""What of a course folder could not be used: named and counted, so that the rest can be answered."""

from dataclasses import dataclass
from typing import Literal

__all__ = ["Kind", "Skipped"]

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
