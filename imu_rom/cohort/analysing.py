"""A whole dataset from its folder to tables: what is finished is kept, what is new or changed is analysed.

::

    OUT/cohort.json     what the tables were made by: program, plans, settings
    OUT/pieces/         one finished recording a file
    OUT/tables/         the tables, put together at the end
"""

import json
import shutil
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from imu_rom.cohort.dataset import Dataset, DatasetRecording
from imu_rom.cohort.interrupts import interrupts_held
from imu_rom.cohort.lock import alone_in
from imu_rom.cohort.one_recording import Job, analyse_recording
from imu_rom.cohort.participants import read_participants
from imu_rom.cohort.pieces import Pieces
from imu_rom.cohort.plans import CohortPlans
from imu_rom.cohort.pools import Pool
from imu_rom.cohort.running import Work, run
from imu_rom.cohort.tables import write_tables
from imu_rom.dose.cohort_reading import CohortReading
from imu_rom.errors import OutputError
from imu_rom.exchange.folder import whole_file
from imu_rom.exchange.plain_values import json_text, plain
from imu_rom.exchange.table_blocks import parquet_library
from imu_rom.exchange.table_parts import Ending
from imu_rom.settings import Settings
from imu_rom.version import __version__

__all__ = ["HEAD", "TABLES", "CohortStep", "analyse_cohort"]

FORMAT = "imu-rom cohort"
SCHEMA_VERSION = 1
HEAD, PIECES, TABLES = "cohort.json", "pieces", "tables"


@dataclass(frozen=True)
class CohortStep:
    """How far a run is.

    Parameters
    ----------
    recording : str or None
        Place of the recording that was finished; None before the first.
    state : {"analysed", "kept", "failed"} or None
        What came of it.
    code : str
        Why it failed; empty where it did not, or did so earlier.
    done, failed, recordings : int
        Finished, failed among these, and all.
    """

    recording: str | None
    state: str | None
    code: str
    done: int
    failed: int
    recordings: int


def analyse_cohort(
    dataset: Dataset,
    plans: CohortPlans,
    out: Path,
    pool: Pool,
    *,
    settings: Settings | None = None,
    ending: Ending = "csv",
    told: Callable[[CohortStep], None] | None = None,
    work: Work = analyse_recording,
) -> CohortReading:
    """Analyse all recordings of a dataset, and put the tables together.

    Parameters
    ----------
    dataset : Dataset
        Where the recordings are.
    plans : CohortPlans
        What they are compared with.
    out : Path
        Folder to be written, or to go on in.
    pool : Pool
        Who does the work; it is closed in any case.
    settings : Settings, optional
        All tunables; None takes the defaults.
    ending : {"csv", "parquet"}
        What to write.
    told : callable, optional
        Called before the first recording and after each.
    work : callable, optional
        What is done with a recording.

    Returns
    -------
    CohortReading
        Counts. The files are the same whatever the number of workers, the order, and how often the run was stopped.

    Raises
    ------
    KeyboardInterrupt
        It was interrupted; what is finished is kept.
    CohortError
        The dataset can't be walked, or the workers can't be started or were lost.
    OutputError
        ``out`` holds something else, or can't be written.
    MissingExtraError
        Parquet, an address or a cluster needs a package that is not installed.
    """
    settings = settings or Settings()
    if ending == "parquet":
        parquet_library()
    recordings = dataset.recordings()
    participants = read_participants(dataset)
    if _is_new(out):
        out.mkdir()
    with alone_in(out):
        head = json_text(_head(plans, settings)).encode()
        whole_file(out / HEAD, [head], replaces=head[:8])
        pieces = _folder_of_pieces(out)
        step = CohortStep(None, None, "", 0, 0, len(recordings))
        now = 0
        if told is not None:
            told(step)
        with _closed_at_the_end(pool), interrupts_held() as was_interrupted:
            jobs = _jobs(dataset, recordings, plans, settings, pieces)
            for job, done in run(jobs, pool, work, was_interrupted):
                piece = pieces.take(done, known=job.known)
                state = "failed" if piece.has_failed else "kept" if done.piece is None else "analysed"
                now += done.piece is not None
                step = CohortStep(
                    done.place, state, done.code, step.done + 1, step.failed + piece.has_failed, len(recordings)
                )
                if told is not None:
                    told(step)
        pieces.keep_only(each.place for each in recordings)
        codes = write_tables(out / TABLES, recordings, pieces, participants, plans.faults, ending)
        theirs = {each.participant for each in recordings}
        return CohortReading(
            participants=len(theirs),
            recordings=len(recordings),
            now=now,
            kept=len(recordings) - now,
            failures=codes,
            plan_faults=len(plans.faults),
            without_recording=len(set(participants.listed) - theirs),
            has_participants=participants.has_file,
        )


@contextmanager
def _closed_at_the_end(pool: Pool) -> Iterator[None]:
    """Close a pool, in the middle of its work where that is not done."""
    ended = False
    try:
        yield
        ended = True
    finally:
        pool.close(at_once=not ended)


def _jobs(
    dataset: Dataset,
    recordings: Sequence[DatasetRecording],
    plans: CohortPlans,
    settings: Settings,
    pieces: Pieces,
) -> Iterator[Job]:
    for each in recordings:
        yield Job(dataset, each, plans.of(each.participant), settings, pieces.keys(each.place))


def _is_new(out: Path) -> bool:
    """Refuse a folder of anything else; tell whether it is still to be made."""
    where = str(out)
    if not out.exists():
        if not out.parent.is_dir():
            raise OutputError(
                f"can't be written, because there is no folder {out.parent}", where=where, do="make that folder first"
            )
        return True
    if not out.is_dir():
        raise OutputError("exists and is no folder", where=where, do="name another folder")
    if any(not each.name.startswith(".") for each in out.iterdir()):
        try:
            ours = json.loads((out / HEAD).read_bytes())["format"] == FORMAT
        except (OSError, ValueError, LookupError, TypeError, RecursionError):
            ours = False
        if not ours:
            raise OutputError("exists and is no cohort's folder", where=where, do="name another folder")
    return False


def _head(plans: CohortPlans, settings: Settings) -> dict[str, object]:
    return {
        "format": FORMAT,
        "schema_version": SCHEMA_VERSION,
        "program": {"name": "imu-rom", "version": __version__},
        "plans": [{"name": each.name, "sha256": each.sha256} for each in plans.files],
        "studies": plain(plans.studies),
        "settings": settings.as_mapping(),
    }


def _folder_of_pieces(out: Path) -> Pieces:
    try:
        for each in out.glob(f".{HEAD}.*.filling"):
            each.unlink()
        for each in sorted(out.glob(f".{TABLES}.*")):
            # a run that was killed between two renames left the earlier tables aside
            if each.name.endswith(".replaced") and not (out / TABLES).exists():
                each.rename(out / TABLES)
            else:
                shutil.rmtree(each)
        return Pieces(out / PIECES)
    except OSError as error:
        raise OutputError(
            f"can't be written: {(error.strerror or str(error)).lower()}", where=str(out), do="check your rights there"
        ) from error
