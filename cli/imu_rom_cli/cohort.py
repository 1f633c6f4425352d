"""``imu-rom cohort``: a dataset of many people, analysed and put together as tables."""

import json
import signal
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

import click

from imu_rom_cli.cohort_summary import summary
from imu_rom_cli.options import FILE, load_settings, settings_option
from imu_rom_cli.usual_group import UsualGroup

if TYPE_CHECKING:
    from imu_rom.cohort.analysing import CohortStep
    from imu_rom.cohort.pools import Pool

__all__ = ["command"]

Told = Callable[["CohortStep"], None]


@click.group(cls=UsualGroup, name="cohort", add_help_option=True)
def command() -> None:
    """Analyse all recordings of a BIDS dataset, each by its person's plan, and write tables; or sum them up."""


@click.command(name="cohort")
@click.argument("dataset", metavar="DATASET")
@click.option("--plan", "plan_path", required=True, type=FILE, metavar="PLAN|DIR", help="A plan for all, or plans.")
@click.option("--out", required=True, type=FILE, metavar="FOLDER", help="Write there, or go on there.")
@click.option("--to", type=click.Choice(["tables", "parquet"]), default="tables", show_default=True, help="Format.")
@click.option("--workers", type=click.IntRange(min=1), metavar="N", help="Processes; else one for each core.")
@click.option("--scheduler", metavar="ADDRESS", help="Work on a Dask cluster, by its scheduler's address.")
@settings_option
@click.option("--json", "as_json", is_flag=True, help="Print one line of JSON for each recording, for a log.")
def _analyse(
    dataset: str,
    plan_path: Path,
    out: Path,
    to: str,
    workers: int | None,
    scheduler: str | None,
    settings_file: Path | None,
    as_json: bool,
) -> None:
    """Analyse all recordings of a BIDS dataset, each by its person's plan, and write tables.

    DATASET is a folder, or an address such as s3://bucket/dataset. The same command goes on after it was stopped, and
    does again only what changed.
    """
    # imported here so that --help loads no numpy
    from imu_rom.cohort.analysing import analyse_cohort  # noqa: PLC0415
    from imu_rom.cohort.dataset import Dataset  # noqa: PLC0415
    from imu_rom.cohort.plans import read_cohort_plans  # noqa: PLC0415
    from imu_rom.wording.cohort_text import cohort_sentences  # noqa: PLC0415

    if workers is not None and scheduler is not None:
        raise click.UsageError("--workers and --scheduler exclude each other")
    settings, _ = load_settings(settings_file)
    plans = read_cohort_plans(plan_path, largest_mb=settings.reading.largest_plan_mb)
    source = Dataset.at(dataset)
    # a cluster's queue ends programs by SIGTERM; that is an interruption like Ctrl-C
    ended_before = signal.signal(signal.SIGTERM, signal.default_int_handler) if _is_main_thread() else None
    try:
        with _lines() if as_json else _bar() as told:
            reading = analyse_cohort(
                source,
                plans,
                out,
                _pool(workers, scheduler),
                settings=settings,
                ending="parquet" if to == "parquet" else "csv",
                told=told,
            )
    except KeyboardInterrupt:
        click.echo("Interrupted; what is finished is kept, and the same command goes on.", err=True)
        raise click.exceptions.Exit(130) from None
    finally:
        if ended_before is not None:
            signal.signal(signal.SIGTERM, ended_before)
    if as_json:
        click.echo(json.dumps({"event": "end", **asdict(reading)}))
    else:
        click.echo("\n".join(cohort_sentences(reading)))
    click.echo(f"Written to {out}.", err=True)


if isinstance(command, UsualGroup):
    command.usual = _analyse
    command.add_command(summary)


def _is_main_thread() -> bool:
    return threading.current_thread() is threading.main_thread()


def _pool(workers: int | None, scheduler: str | None) -> "Pool":
    from imu_rom.cohort.pools import ClusterPool, LocalPool, usable_cores  # noqa: PLC0415

    return LocalPool(workers or usable_cores()) if scheduler is None else ClusterPool(scheduler)


@contextmanager
def _lines() -> Iterator[Told]:
    """Print a line of JSON for each recording, as soon as it is finished."""
    began_s = time.monotonic()

    def told(step: "CohortStep") -> None:
        event = "begin" if step.recording is None else "recording"
        line = {"event": event, **asdict(step), "elapsed_s": round(time.monotonic() - began_s, 1)}
        click.echo(json.dumps(line))
        sys.stdout.flush()

    yield told


@contextmanager
def _bar() -> Iterator[Told | None]:
    """Show on a terminal how far it is; say nothing where stderr is no terminal."""
    if not sys.stderr.isatty():
        yield None
        return
    from rich.console import Console  # noqa: PLC0415
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn  # noqa: PLC0415

    columns = (
        BarColumn(),
        MofNCompleteColumn(),
        TextColumn("{task.fields[failed]} failed, {task.fields[rate]} a minute, left"),
        TimeRemainingColumn(),
    )
    with Progress(*columns, console=Console(stderr=True)) as bar:
        task = bar.add_task("", total=None, failed=0, rate="-")
        began_s = time.monotonic()

        def told(step: "CohortStep") -> None:
            passed_s = time.monotonic() - began_s
            rate = f"{60 * step.done / passed_s:.0f}" if step.done and passed_s > 0 else "-"
            bar.update(task, total=step.recordings, completed=step.done, failed=step.failed, rate=rate)

        yield told
