"""Many recordings at once, by one Executor; a worker that dies costs no recording but the one that kills it."""

from collections.abc import Callable, Generator, Iterable, Iterator
from concurrent.futures import FIRST_COMPLETED as FIRST
from concurrent.futures import Executor, Future, wait

from imu_rom.cohort.one_recording import Done, Job, failed
from imu_rom.cohort.pools import Pool
from imu_rom.errors import CohortError, ImuRomError

__all__ = ["Work", "run"]

Work = Callable[[Job], Done]
_LOOK_S = 0.5
KILLED = "killed-its-worker"
_WHY = "ended the process that analysed it, alone too; look at the file, or give the workers more memory."


def run(
    jobs: Iterable[Job], pool: Pool, work: Work, was_interrupted: Callable[[], bool] = lambda: False
) -> Iterator[tuple[Job, Done]]:
    """Do all jobs, a few at a time.

    Parameters
    ----------
    jobs : iterable of Job
        Taken one by one as workers become free, so that they need not all be in memory.
    pool : Pool
        Opened here, closed by the caller.
    work : callable
        What a worker does with a job.
    was_interrupted : callable, optional
        Asked again and again while jobs are waited for.

    Yields
    ------
    tuple of (Job, Done)
        As they are finished, in any order. Of jobs that were under way when a worker died each is tried alone; the one
        that ends its worker again is a failure.

    Raises
    ------
    CohortError
        The workers can't be started, or were lost for another reason than a job.
    KeyboardInterrupt
        It was interrupted.
    """
    executor = pool.open()
    waiting = iter(jobs)
    pending: dict[Future[Done], Job] = {}
    while True:
        suspects = _fill(executor, pool, work, waiting, pending)
        if not pending and not suspects:
            return
        if not suspects:
            suspects = yield from _finished(pool, pending, was_interrupted, all_of_them=False)
        if suspects:
            # whatever was under way beside it may be the one that did it
            suspects += yield from _finished(pool, pending, was_interrupted, all_of_them=True)
            executor = pool.renew()
            for job in sorted(suspects, key=lambda each: each.recording.place):
                alone = {executor.submit(work, job): job}
                if (yield from _finished(pool, alone, was_interrupted, all_of_them=True)):
                    yield job, failed(job, KILLED, _WHY)
                    executor = pool.renew()


def _fill(
    executor: Executor, pool: Pool, work: Work, waiting: Iterator[Job], pending: dict[Future[Done], Job]
) -> list[Job]:
    """Hand out jobs until all workers are busy; give back one that could not be handed out any more."""
    while len(pending) < pool.at_once():
        job = next(waiting, None)
        if job is None:
            break
        try:
            pending[executor.submit(work, job)] = job
        except Exception as error:
            if not pool.is_lost(error):
                raise
            return [job]
    return []


def _finished(
    pool: Pool, pending: dict[Future[Done], Job], was_interrupted: Callable[[], bool], *, all_of_them: bool
) -> Generator[tuple[Job, Done], None, list[Job]]:
    """Wait for one job or for all, and give what came of them; return those whose worker died."""
    lost: list[Job] = []
    while pending:
        finished = wait(pending, timeout=_LOOK_S, return_when=FIRST).done
        if was_interrupted():
            raise KeyboardInterrupt
        for future in finished:
            job = pending.pop(future)
            try:
                done = future.result()
            except ImuRomError:
                raise
            except BaseException as error:
                if isinstance(error, KeyboardInterrupt):
                    raise
                if not pool.is_lost(error):
                    what = f"{type(error).__name__} {error}".strip()
                    raise CohortError(
                        f"the workers were lost, or can't do their work: {what}",
                        do="look at their log; the same command goes on",
                    ) from None
                lost.append(job)
            else:
                yield job, done
        if finished and not all_of_them:
            break
    return lost
