"""Pages are kept without the plotting script, which is the same in all and five megabytes long."""

from functools import cache

from imu_rom.report.charted import SCRIPT_GOES_HERE, plotting_script

__all__ = ["whole_page"]


@cache
def _script() -> bytes:
    return plotting_script()


def whole_page(kept: bytes) -> bytes:
    """Put the plotting script into a page.

    Parameters
    ----------
    kept : bytes
        The page as it is kept: ``report.html`` of a result, or the course's for clinicians.

    Returns
    -------
    bytes
        As ``imu-rom report`` writes it.

    Raises
    ------
    MissingExtraError
        The plotly package is not installed as it should be.
    """
    return kept.replace(SCRIPT_GOES_HERE.encode(), _script(), 1)
