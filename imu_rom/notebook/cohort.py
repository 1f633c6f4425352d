"""A whole dataset analysed, or read again, with its tables as data frames."""

from dataclasses import dataclass
from os import PathLike, fspath
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from imu_rom.cohort.analysing import HEAD, TABLES, analyse_cohort
from imu_rom.cohort.dataset import Dataset
from imu_rom.cohort.plans import read_cohort_plans
from imu_rom.cohort.pools import ClusterPool, LocalPool, usable_cores
from imu_rom.errors import CohortError
from imu_rom.exchange.cohort_columns import COHORT_LAYOUTS, FAILURES
from imu_rom.exchange.table_reading import dictionary_layout, read_table
from imu_rom.notebook.frames import described
from imu_rom.settings import Settings

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["Cohort", "CohortTable", "analyse_dataset", "read_cohort"]

CohortTable = Literal[
    "participants", "sessions", "sets", "repetitions", "exposure_curves", "findings", "references", "failures"
]  # fmt: skip


@dataclass(frozen=True)
class Cohort:
    """The folder that ``imu-rom cohort`` wrote.

    Parameters
    ----------
    folder : Path
        Where it is; tables are read when they are asked for.
    """

    folder: Path

    def to_frame(self, table: CohortTable = "sessions") -> "pd.DataFrame":
        """Give one table, of all participants.

        Parameters
        ----------
        table : {"sessions", "participants", "sets", "repetitions", "exposure_curves", "findings", "references", ...}
            Which, or ``"failures"``; all join by participant and session.

        Returns
        -------
        pandas.DataFrame
            One row an observation; ``attrs["units"]`` and ``attrs["meanings"]`` say what the columns are.

        Raises
        ------
        ResultError
            It is missing, damaged, or of another version.
        MissingExtraError
            It is Parquet, and pyarrow is not installed.
        """
        layouts = {each.name: each for each in (*COHORT_LAYOUTS, FAILURES)}
        if table == "participants":
            layouts[table] = dictionary_layout(self.folder / TABLES, table)
        if table not in layouts:
            raise ValueError(f"table must be one of participants, {', '.join(layouts)}, got {table!r}")
        return described(layouts[table], read_table(self.folder / TABLES, layouts[table]))


def read_cohort(folder: str | PathLike[str]) -> Cohort:
    """Take what ``imu-rom cohort`` or `analyse_dataset` wrote.

    Parameters
    ----------
    folder : path
        Its folder.

    Returns
    -------
    Cohort
        Its tables.

    Raises
    ------
    CohortError
        It is no such folder, or a run of it has not ended.

    Examples
    --------
    >>> from imu_rom import read_cohort
    >>> read_cohort("sample_recordings")
    Traceback (most recent call last):
        ...
    imu_rom.errors.CohortError: sample_recordings: is no folder of a cohort; name one that imu-rom cohort wrote.
    """
    path = Path(folder)
    if not (path / HEAD).is_file():
        raise CohortError("is no folder of a cohort", where=str(path), do="name one that imu-rom cohort wrote")
    if not (path / TABLES).is_dir():
        raise CohortError("has no tables yet", where=str(path), do="let imu-rom cohort run to its end")
    return Cohort(path)


def analyse_dataset(
    dataset: str | PathLike[str],
    plans: str | PathLike[str],
    out: str | PathLike[str],
    *,
    workers: int | None = None,
    scheduler: str | None = None,
    settings: Settings | None = None,
) -> Cohort:
    """Analyse all recordings of a BIDS dataset, as ``imu-rom cohort`` does.

    Parameters
    ----------
    dataset : path or str
        A folder, or an address as fsspec reads it.
    plans : path
        A plan for all, or a folder of plans.
    out : path
        Folder to be written, or to go on in: what is finished and unchanged is not done again.
    workers : int, optional
        Processes; None is one for each core. They are started anew, so a script needs ``if __name__ == "__main__":``.
    scheduler : str, optional
        Address of a Dask scheduler, to work on its cluster instead.
    settings : Settings, optional
        All tunables; None takes the defaults.

    Returns
    -------
    Cohort
        Its tables.

    Raises
    ------
    CohortError
        The dataset can't be walked, or the workers were lost.
    PlanError
        No plan can be used.
    OutputError
        ``out`` holds something else, or can't be written.

    Examples
    --------
    >>> from tempfile import TemporaryDirectory
    >>> from imu_rom import analyse_dataset
    >>> plan = "sample_recordings/plans/P-0001.toml"
    >>> with TemporaryDirectory() as folder:
    ...     cohort = analyse_dataset("sample_recordings/dataset", plan, f"{folder}/out", workers=1)
    ...     sessions, failures = cohort.to_frame("sessions"), cohort.to_frame("failures")
    >>> sessions[["participant", "sets", "repetitions"]].values.tolist()
    [['P0001', 3, 45]]
    >>> set(failures.code)
    {'not-of-the-plan'}
    """
    settings = settings or Settings()
    read = read_cohort_plans(Path(plans), largest_mb=settings.reading.largest_plan_mb)
    pool = LocalPool(workers or usable_cores()) if scheduler is None else ClusterPool(scheduler)
    analyse_cohort(Dataset.at(fspath(dataset)), read, Path(out), pool, settings=settings)
    return read_cohort(out)
