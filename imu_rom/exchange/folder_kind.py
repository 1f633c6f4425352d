"""Which kind of folder one is: of a session's result, or of a course of weeks."""

from pathlib import Path
from typing import Literal

from imu_rom.errors import ResultError

__all__ = ["folder_kind"]


def folder_kind(folder: Path) -> Literal["result", "course"]:
    """Tell a session's result from a course by what lies in the folder.

    Parameters
    ----------
    folder : Path
        As the caller named it.

    Returns
    -------
    {"result", "course"}
        A result holds ``result.json``; a course ``plan.toml`` or the folder ``plans``. With both it is a result.

    Raises
    ------
    ResultError
        There is no such folder, or it is of neither kind.
    """
    where = str(folder)
    advice = "name the folder that imu-rom analyse --out wrote, or that of a course"
    if not folder.is_dir():
        raise ResultError("is no folder" if folder.exists() else "is not there", where=where, do=advice)
    if (folder / "result.json").is_file():
        return "result"
    if (folder / "plan.toml").is_file() or (folder / "plans").is_dir():
        return "course"
    raise ResultError("holds neither a result.json nor a plan.toml or plans/", where=where, do=advice)
