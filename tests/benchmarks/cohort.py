"""How fast ``imu-rom cohort`` is, how it scales, where the time goes, whether memory stays flat and growth linear.

    python tests/benchmarks/cohort.py [--recordings 1000] [--bases 20] [--rate 100] [--workers 1 --workers 2]
        [--memory 100 --memory 2000] [--sets 1 --sets 3 --sets 18 --sets 144] [--folder FOLDER] [--write]

Simulated sessions of three sets of heel drops, about ten minutes each: ``--bases`` of them, and ``--recordings``
distinct ones made of these with noise of their own, so that nothing kept by content answers for another.

speed
    all recordings by 1 worker and by 2: recordings per second, and how much faster two are (at least 1.8). As a
    control, how much faster two processes are than one at the floor alone, without any cohort: what this machine
    gives. The same command once more, with nothing left to do, shows what is done once.
share
    a few recordings in one process: reading, two offline VQF passes, all else; the time inside the cohort over the
    floor of one read and two passes (at most 3, 2 is the aim). Beside it, what the same table kept as Parquet would
    take to be read: the most that a copy of a recording could save.
memory
    short recordings, few and many: highest resident memory of the program and of its worker (within 10 %).
growth
    one recording of 1, 3, 18 and 144 sets (minutes to hours): seconds for each recorded minute (the longest at most
    twice the least).

Run it on a machine that does nothing else. Disk: 6 MB for each recording at 100 Hz. Exits with 1 where a goal is
missed; ``--write`` writes the table to ``results/cohort.md`` with the commit that it was made on.
"""

import argparse
import contextlib
import itertools
import multiprocessing
import os
import shutil
import subprocess
import sys
import tempfile
import threading
import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from pathlib import Path

import numpy as np

HERE = Path(__file__).parent
RESULTS = HERE / "results" / "cohort.md"
LEAST_SCALING, LARGEST_OVER_FLOOR, AIMED_OVER_FLOOR = 1.8, 3.0, 2.0
LARGEST_MEMORY_GROWTH, LARGEST_GROWTH = 1.1, 2.0

PLAN = """\
[plan]
format = 1
tendon_site = "achilles insertion"

[[stage]]
name = "only one"

[[stage.exercise]]
name = "heeldrop"
joint = "ankle"
motion = "dorsiflexion"
side = "left"
proximal = "shank"
distal = "foot"
calibration_movement = "plantarflexion"
sets = {sets}
repetitions = {repetitions}
tempo_s = {{ eccentric = 2.5, end_range_hold = 2.0, concentric = 1.5, top_pause = 0.6 }}
start_deg = -25
end_range_deg = [5, 15]
compression_threshold = {{ deg = 4, basis = "clinician" }}
"""


def write_plan(folder: Path, sets: int, repetitions: int) -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / "plan.toml"
    path.write_text(PLAN.format(sets=sets, repetitions=repetitions))
    return path


def simulated(plan: Path, seed: int, rate_hz: float):
    from imu_rom.dose.plan_file import read_plan
    from imu_rom.simulation import routine_from_exercise, simulate_session

    return simulate_session(seed, routine_from_exercise(read_plan(plan).exercise()), rate_hz=rate_hz)


def answerable(plan: Path, count: int, rate_hz: float) -> list:
    """Simulate sessions, and leave out the few whose neutral pose is not clear: a failure is no work."""
    from imu_rom.dose.plan_file import read_plan
    from imu_rom.errors import CannotAnswerError
    from imu_rom.session import analyse

    found: list = []
    seeds = itertools.count()
    while len(found) < count:
        recording = simulated(plan, next(seeds), rate_hz).recording
        with contextlib.suppress(CannotAnswerError):
            analyse(recording, read_plan(plan))
            found.append(recording)
    return found


def write_recordings(dataset: Path, base: list, numbers: list[int], rate_hz: float) -> None:
    """Write a base, given by its sensors, once for each number, with noise of its own, a tenth of a sensor's."""
    from imu_rom.recording.bids_writing import write_bids_motion

    for number in numbers:
        chance = np.random.default_rng(10_000 + number)
        sensors = [
            replace(
                each,
                accelerometer_m_s2=each.accelerometer_m_s2 + chance.normal(0, 0.002, each.accelerometer_m_s2.shape),
                gyroscope_rad_s=each.gyroscope_rad_s + chance.normal(0, 0.0001, each.gyroscope_rad_s.shape),
            )
            for each in base
        ]
        write_bids_motion(
            dataset, subject=f"P{number:05d}", task="heeldrop", rate_hz=rate_hz, sensors=sensors, side="left"
        )


def write_dataset(folder: Path, plan: Path, recordings: int, bases: int, rate_hz: float) -> Path:
    """Write distinct recordings, on all cores, as nothing is timed meanwhile."""
    from imu_rom.recording.bids_dataset import write_dataset_description

    dataset = folder / "dataset"
    if dataset.exists():
        shutil.rmtree(dataset)
    dataset.mkdir(parents=True)
    write_dataset_description(
        dataset, name="Invented sessions", acknowledgements="Invented data.", generated_by={"Name": "bench"}
    )
    made = [list(each.sensors.values()) for each in answerable(plan, min(bases, recordings), rate_hz)]
    with ProcessPoolExecutor(mp_context=multiprocessing.get_context("spawn")) as pool:
        shares_of = [list(range(recordings))[first :: len(made)] for first in range(len(made))]
        list(pool.map(write_recordings, [dataset] * len(made), made, shares_of, [rate_hz] * len(made)))
    return dataset


def resident_mb(pid: int) -> float:
    try:
        lines = Path(f"/proc/{pid}/status").read_text().splitlines()
    except OSError:
        return 0.0
    return next((int(each.split()[1]) / 1024 for each in lines if each.startswith("VmHWM:")), 0.0)


def children_of(pid: int) -> list[int]:
    try:
        return [int(each) for each in Path(f"/proc/{pid}/task/{pid}/children").read_text().split()]
    except OSError:
        return []


def run_cohort(dataset: Path, plan: Path, out: Path, workers: int, *, anew: bool = True) -> tuple[float, float, float]:
    """Seconds of the whole command, and highest resident MB of the program and of a worker."""
    if anew and out.exists():
        shutil.rmtree(out)
    code = "import sys; from imu_rom_cli import main; sys.exit(main(sys.argv[1:]))"
    words = [sys.executable, "-c", code, "cohort", str(dataset), "--plan", str(plan), "--out", str(out)]
    highest = [0.0, 0.0]
    began_s = time.perf_counter()
    with subprocess.Popen(
        [*words, "--workers", str(workers)], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True
    ) as process:
        ended = threading.Event()

        def look() -> None:
            while not ended.wait(0.1):
                highest[0] = max(highest[0], resident_mb(process.pid))
                highest[1] = max([highest[1], *(resident_mb(each) for each in children_of(process.pid))])

        watch = threading.Thread(target=look)
        watch.start()
        said = process.communicate()[0]
        ended.set()
        watch.join()
    spent_s = time.perf_counter() - began_s
    if process.returncode or " 0 failed" not in said:
        raise SystemExit(f"the cohort failed: {said}")
    return spent_s, highest[0], highest[1]


def floor_s(motion: Path) -> tuple[float, float]:
    """Seconds of this process for one read, by one thread as in a cohort, and for two offline VQF passes."""
    from imu_rom.cohort.pools import one_thread
    from imu_rom.motion.orientation import estimate_attitude
    from imu_rom.recording.reading import read_recording
    from imu_rom.settings import Settings

    began_s = time.process_time()
    with one_thread():
        recording = read_recording(motion, Settings().reading, None)
    read_s = time.process_time()
    for sensor in recording.sensors.values():
        estimate_attitude(sensor.accelerometer_m_s2, sensor.gyroscope_rad_s, recording.rate_hz)
    return read_s - began_s, time.process_time() - read_s


def floor_scaling(dataset: Path, count: int) -> float:
    """How much faster two processes are than one at reading and VQF of the same recordings, once both are loaded."""
    places = sorted(dataset.rglob("*_motion.tsv"))[:count]
    spent_s = []
    for processes in (1, 2):
        with ProcessPoolExecutor(processes, multiprocessing.get_context("spawn")) as pool:
            # each loads what it needs; a process may take more than one of these
            list(pool.map(floor_s, places[:1] * 8 * processes))
            began_s = time.perf_counter()
            list(pool.map(floor_s, places))
            spent_s.append(time.perf_counter() - began_s)
    return spent_s[0] / spent_s[1]


def shares(dataset: Path, plan: Path, count: int) -> tuple[float, float, float]:
    """Median seconds a recording of reading, of two VQF passes, and of all inside the cohort, in this process."""
    from imu_rom.cohort.dataset import Dataset
    from imu_rom.cohort.one_recording import Job, analyse_recording
    from imu_rom.cohort.plans import read_cohort_plans
    from imu_rom.settings import Settings

    settings, plans, source = Settings(), read_cohort_plans(plan), Dataset.at(str(dataset))
    rows = []
    for each in source.recordings()[: count + 1]:
        parts_s = floor_s(dataset / each.place)
        began_s = time.process_time()
        done = analyse_recording(Job(source, each, plans.of(each.participant), settings))
        if done.code:
            raise SystemExit(f"{each.place} failed: {done.code}")
        rows.append((*parts_s, time.process_time() - began_s))
    # the first one loads what the others find loaded
    read, fused, whole = np.median(np.array(rows[1:]), axis=0).tolist()
    return read, fused, whole


def parquet_s(motion: Path, copy: Path) -> tuple[float, float]:
    """Seconds of this process to write a recording's table as Parquet, and to read all of its columns back."""
    import pandas as pd
    from pyarrow import parquet

    frame = pd.read_csv(motion, sep="\t", header=None).rename(columns=str)
    began_s = time.process_time()
    frame.to_parquet(copy)
    written_s = time.process_time()
    columns = parquet.read_table(copy, use_threads=False).columns
    assert sum(len(each.to_numpy()) for each in columns) == frame.size
    return written_s - began_s, time.process_time() - written_s


def growth(folder: Path, sets: list[int], rate_hz: float) -> list[tuple[int, float, float]]:
    """Sets, recorded minutes, and seconds inside the cohort, one recording each."""
    from imu_rom.recording.reading import read_recording
    from imu_rom.settings import Settings

    found = []
    for number in sets:
        plan = write_plan(folder / f"sets-{number}", number, 15)
        dataset = write_dataset(plan.parent, plan, 2, 1, rate_hz)
        minutes = read_recording(next(dataset.rglob("*_motion.tsv")), Settings().reading).duration_s / 60
        found.append((number, minutes, shares(dataset, plan, 1)[2]))
        shutil.rmtree(dataset)
    return found


def measured(arguments: argparse.Namespace, folder: Path) -> tuple[list[tuple[str, str, str]], bool]:
    rows, good = [], True

    def row(what: str, value: str, goal: str = "", *, met: bool = True) -> None:
        nonlocal good
        rows.append((what, value, goal))
        good &= met
        print(f"{what}: {value}{f' (goal: {goal})' if goal else ''}{'' if met else ' MISSED'}", flush=True)

    plan = write_plan(folder, 3, 15)
    dataset = write_dataset(folder, plan, arguments.recordings, arguments.bases, arguments.rate)
    times = {each: run_cohort(dataset, plan, folder / "out", each)[0] for each in arguments.workers}
    again_s = run_cohort(dataset, plan, folder / "out", arguments.workers[-1], anew=False)[0]
    for workers, spent_s in times.items():
        rate = arguments.recordings / spent_s
        row(
            f"{arguments.recordings} recordings by {workers} workers",
            f"{spent_s:.1f} s, {rate:.2f} recordings a second",
        )
    if {1, 2} <= set(times):
        scaling = times[1] / times[2]
        row("two workers over one", f"{scaling:.2f}", f"at least {LEAST_SCALING}", met=scaling >= LEAST_SCALING)
        bare = floor_scaling(dataset, 200)
        row("control: two processes over one, read and VQF alone", f"{bare:.2f}")
    row("the same once more, nothing left to do", f"{again_s:.1f} s")
    read_s, fused_s, whole_s = shares(dataset, plan, min(5, arguments.recordings - 1))
    rest_s = whole_s - read_s - fused_s
    parts = ", ".join(
        f"{name} {100 * each / whole_s:.0f} %"
        for name, each in (("reading", read_s), ("VQF", fused_s), ("rest", rest_s))
    )
    row("one recording inside the cohort", f"{whole_s:.2f} s: {parts}")
    over = whole_s / (read_s + fused_s)
    row(
        "that over one read and two VQF passes",
        f"{over:.2f}",
        f"at most {LARGEST_OVER_FLOOR}, aim {AIMED_OVER_FLOOR}",
        met=over <= LARGEST_OVER_FLOOR,
    )
    places = sorted(dataset.rglob("*_motion.tsv"))[:6]
    looks = np.array([parquet_s(each, folder / "copy.parquet") for each in places])[1:]
    write_s, again_s = np.median(looks, axis=0).tolist()
    saved = 100 * max(0.0, read_s - again_s) / whole_s
    row(
        "a Parquet copy of its table",
        f"{1000 * write_s:.0f} ms to write, {1000 * again_s:.0f} to read: saves at most {saved:.0f} % of later runs",
    )
    shutil.rmtree(dataset)
    if len(arguments.memory) > 1:
        short = write_plan(folder / "short", 1, 5)
        peaks = []
        for number in arguments.memory:
            dataset = write_dataset(short.parent, short, number, 5, 25.0)
            peaks.append(run_cohort(dataset, short, folder / "out", 1)[1:])
            row(f"memory at {number} recordings", f"program {peaks[-1][0]:.0f} MB, worker {peaks[-1][1]:.0f} MB")
            shutil.rmtree(dataset)
        grown = max(last / first for first, last in zip(peaks[0], peaks[-1], strict=True))
        goal = f"at most {LARGEST_MEMORY_GROWTH}"
        row("memory of the most over the fewest", f"{grown:.3f}", goal, met=grown <= LARGEST_MEMORY_GROWTH)
    if arguments.sets:
        each_minute = []
        for number, minutes, spent_s in growth(folder, arguments.sets, arguments.rate):
            each_minute.append(1000 * spent_s / minutes)
            row(f"{number} sets, {minutes:.0f} min", f"{spent_s:.2f} s, {each_minute[-1]:.1f} ms a recorded minute")
        grown = each_minute[-1] / min(each_minute)
        row(
            "longest over least, a recorded minute",
            f"{grown:.2f}",
            f"at most {LARGEST_GROWTH}",
            met=grown <= LARGEST_GROWTH,
        )
    return rows, good


def table(rows: list[tuple[str, str, str]]) -> str:
    sys.path.insert(0, str(HERE))
    from speed import commit

    lines = ["# Cohorts", "", f"Commit {commit()}; Python {sys.version.split()[0]}, {os.cpu_count()} cores.", ""]
    lines += ["| what | measured | goal |", "|---|---|---|", *(f"| {' | '.join(each)} |" for each in rows)]
    return "\n".join(lines) + "\n"


def main() -> int:
    parser = argparse.ArgumentParser(description="Speed, scaling, memory and growth of imu-rom cohort.")
    parser.add_argument("--recordings", type=int, default=1000)
    parser.add_argument("--bases", type=int, default=20)
    parser.add_argument("--rate", type=float, default=100.0)
    parser.add_argument("--workers", type=int, action="append")
    parser.add_argument("--memory", type=int, action="append")
    parser.add_argument("--sets", type=int, action="append", help="0: no growth")
    parser.add_argument("--folder", type=Path)
    parser.add_argument("--write", action="store_true")
    arguments = parser.parse_args()
    arguments.workers = arguments.workers or [1, 2]
    arguments.memory = arguments.memory or [100, 2000]
    arguments.sets = [each for each in arguments.sets or [1, 3, 18, 144] if each]
    with tempfile.TemporaryDirectory(dir=arguments.folder) as folder:
        rows, good = measured(arguments, Path(folder))
    if arguments.write:
        RESULTS.write_text(table(rows), "utf-8")
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main())
