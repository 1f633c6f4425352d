"""The methods text of what goes out."""

from imu_rom.errors import CourseError, ResultError
from imu_rom.exchange.exported import Exported
from imu_rom.wording.methods_text import methods_text

__all__ = ["write_methods"]


def write_methods(exported: Exported) -> bytes:
    """Write the methods text of one result.

    Parameters
    ----------
    exported : Exported
        What goes out.

    Returns
    -------
    bytes
        UTF-8 Markdown; the same result gives the same bytes.

    Raises
    ------
    CourseError
        It is a course, whose results differ in plan, zero and uncertainty.
    ResultError
        A number is beyond what can be measured.
    """
    if exported.course is not None or len(exported.results) != 1:
        raise CourseError(
            "is a course, and a methods text tells of one result",
            where="--to methods",
            do="name the folder of one of its results",
        )
    try:
        return methods_text(exported.results[0].document).encode()
    except (ValueError, OverflowError):
        raise ResultError(
            "has a number that no recording gives", where="the result", do="analyse the recording again"
        ) from None
