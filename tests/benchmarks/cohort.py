"""How fast ``imu-rom cohort`` is, how it scales, where the time goes, whether memory stays flat and growth linear.

    python tests/benchmarks/cohort.py [--only speed|memory|growth] [--recordings 1000] [--bases 20] [--rate 100]
        [--workers 1 --workers 2] [--memory 100 --memory 2000] [--folder FOLDER] [--write]

Simulated sessions of three sets of heel drops, about ten minutes each: ``--bases`` of them, and ``--recordings``
distinct ones made of these with noise of their own, so that nothing kept by content answers for another.

speed
    all recordings by 1 worker and by 2: recordings per second, and how much faster two are (at least 1.8). Then a few
    recordings in one process: reading, two offline VQF passes, all else; the time inside the cohort over the floor of
    one read and two passes (at most 3, 2 is the aim).
memory
    short recordings, few and many: highest resident memory of the program and of its worker (within 10 %).
growth
    one recording of three minutes, of ten, of an hour and of eight: seconds for each recorded minute (the longest at
    most twice the least).

Run it on a machine that does nothing else. Disk: 6 MB for each recording at 100 Hz. Exits with 1 where a goal is
missed; ``--write`` writes what was measured to ``results/cohort.md``, each part with the commit that it was made on.
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
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

HERE = Path(__file__).parent
RESULTS = HERE / "results" / "cohort.md"
LEAST_SCALING, LARGEST_OVER_FLOOR, AIMED_OVER_FLOOR = 1.8, 3.0, 2.0
LARGEST_MEMORY_GROWTH, LARGEST_GROWTH = 1.1, 2.0
# sets and repetitions of three minutes (the shortest routine), ten, an hour and eight
LENGTHS = ((1, 5), (3, 15), (18, 15), (98, 34))

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


def growth(folder: Path, rate_hz: float) -> list[tuple[int, float, float]]:
    """Repetitions, recorded minutes, and seconds inside the cohort, one recording each."""
    from imu_rom.recording.reading import read_recording
    from imu_rom.settings import Settings

    found = []
    for sets, repetitions in LENGTHS:
        plan = write_plan(folder / f"sets-{sets}", sets, repetitions)
        dataset = write_dataset(plan.parent, plan, 2, 1, rate_hz)
        minutes = read_recording(next(dataset.rglob("*_motion.tsv")), Settings().reading).duration_s / 60
        found.append((sets * repetitions, minutes, shares(dataset, plan, 1)[2]))
        shutil.rmtree(dataset)
    return found


@dataclass
class Rows:
    """What was measured in a part, printed as it comes."""

    rows: list[tuple[str, str, str]] = field(default_factory=list)
    good: bool = True

    def add(self, what: str, value: str, goal: str = "", *, met: bool = True) -> None:
        self.rows.append((what, value, goal))
        self.good &= met
        print(f"{what}: {value}{f' (goal: {goal})' if goal else ''}{'' if met else ' MISSED'}", flush=True)


def measure_speed(rows: Rows, arguments: argparse.Namespace, folder: Path) -> None:
    plan = write_plan(folder, 3, 15)
    dataset = write_dataset(folder, plan, arguments.recordings, arguments.bases, arguments.rate)
    times = {each: run_cohort(dataset, plan, folder / "out", each)[0] for each in arguments.workers}
    again_s = run_cohort(dataset, plan, folder / "out", arguments.workers[-1], anew=False)[0]
    for workers, spent_s in times.items():
        rate = arguments.recordings / spent_s
        rows.add(
            f"{arguments.recordings} recordings by {workers} worker{'s' if workers > 1 else ''}",
            f"{spent_s:.1f} s, {rate:.2f} recordings a second",
        )
    if {1, 2} <= set(times):
        scaling = times[1] / times[2]
        rows.add("two workers over one", f"{scaling:.2f}", f"at least {LEAST_SCALING}", met=scaling >= LEAST_SCALING)
        bare = floor_scaling(dataset, 200)
        rows.add("control: two processes over one, read and VQF alone", f"{bare:.2f}")
    rows.add("the same once more, nothing left to do", f"{again_s:.1f} s")
    read_s, fused_s, whole_s = shares(dataset, plan, min(5, arguments.recordings - 1))
    rest_s = whole_s - read_s - fused_s
    parts = ", ".join(
        f"{name} {100 * each / whole_s:.0f} %"
        for name, each in (("reading", read_s), ("VQF", fused_s), ("rest", rest_s))
    )
    rows.add("one recording inside the cohort", f"{whole_s:.2f} s: {parts}")
    over = whole_s / (read_s + fused_s)
    rows.add(
        "that over one read and two VQF passes",
        f"{over:.2f}",
        f"at most {LARGEST_OVER_FLOOR}, aim {AIMED_OVER_FLOOR}",
        met=over <= LARGEST_OVER_FLOOR,
    )
    places = sorted(dataset.rglob("*_motion.tsv"))[:6]
    looks = np.array([parquet_s(each, folder / "copy.parquet") for each in places])[1:]
    write_s, again_s = np.median(looks, axis=0).tolist()
    saved = 100 * max(0.0, read_s - again_s) / whole_s
    rows.add(
        "a Parquet copy of its table",
        f"{1000 * write_s:.0f} ms to write, {1000 * again_s:.0f} to read: saves at most {saved:.0f} % of later runs",
    )
    shutil.rmtree(dataset)


def measure_memory(rows: Rows, arguments: argparse.Namespace, folder: Path) -> None:
    plan = write_plan(folder, 1, 5)
    peaks = []
    for number in arguments.memory:
        dataset = write_dataset(folder, plan, number, 5, 25.0)
        peaks.append(run_cohort(dataset, plan, folder / "out", 1)[1:])
        rows.add(f"at {number} recordings", f"program {peaks[-1][0]:.0f} MB, worker {peaks[-1][1]:.0f} MB")
        shutil.rmtree(dataset)
    grown = max(last / first for first, last in zip(peaks[0], peaks[-1], strict=True))
    rows.add(
        "the most over the fewest",
        f"{grown:.3f}",
        f"at most {LARGEST_MEMORY_GROWTH}",
        met=grown <= LARGEST_MEMORY_GROWTH,
    )


def measure_growth(rows: Rows, arguments: argparse.Namespace, folder: Path) -> None:
    each_minute = []
    for repetitions, minutes, spent_s in growth(folder, arguments.rate):
        each_minute.append(1000 * spent_s / minutes)
        rows.add(
            f"{minutes:.1f} min, {repetitions} repetitions",
            f"{spent_s:.2f} s, {each_minute[-1]:.1f} ms a recorded minute",
        )
    grown = each_minute[-1] / min(each_minute)
    rows.add(
        "longest over least, a recorded minute",
        f"{grown:.2f}",
        f"at most {LARGEST_GROWTH}",
        met=grown <= LARGEST_GROWTH,
    )


PARTS = {"speed": measure_speed, "memory": measure_memory, "growth": measure_growth}


def part_text(name: str, rows: list[tuple[str, str, str]], made_on: str) -> str:
    lines = [
        f"## {name.capitalize()}",
        "",
        f"Commit {made_on}; Python {sys.version.split()[0]}, {os.cpu_count()} cores.",
        "",
    ]
    lines += ["| what | measured | goal |", "|---|---|---|", *(f"| {' | '.join(each)} |" for each in rows)]
    return "\n".join(lines) + "\n"


def write_parts(measured: dict[str, list[tuple[str, str, str]]]) -> None:
    """Put the parts into the table in the place of earlier ones; others stay, each with its own commit."""
    sys.path.insert(0, str(HERE))
    from speed import commit

    before = RESULTS.read_text("utf-8") if RESULTS.exists() else ""
    texts = {each.partition("\n")[0].lower(): f"## {each.rstrip()}\n" for each in before.split("## ")[1:]}
    texts |= {name: part_text(name, rows, commit()) for name, rows in measured.items()}
    whole = ["# Cohorts\n", *(texts[each] for each in PARTS if each in texts)]
    RESULTS.write_text("\n".join(whole), "utf-8")


def main() -> int:
    parser = argparse.ArgumentParser(description="Speed, scaling, memory and growth of imu-rom cohort.")
    parser.add_argument("--only", choices=list(PARTS), action="append", help="a part; all without it")
    parser.add_argument("--recordings", type=int, default=1000)
    parser.add_argument("--bases", type=int, default=20)
    parser.add_argument("--rate", type=float, default=100.0)
    parser.add_argument("--workers", type=int, action="append")
    parser.add_argument("--memory", type=int, action="append")
    parser.add_argument("--folder", type=Path)
    parser.add_argument("--write", action="store_true")
    arguments = parser.parse_args()
    arguments.workers = arguments.workers or [1, 2]
    arguments.memory = arguments.memory or [100, 2000]
    good = True
    for name in arguments.only or PARTS:
        with tempfile.TemporaryDirectory(dir=arguments.folder) as folder:
            rows = Rows()
            PARTS[name](rows, arguments, Path(folder))
        good &= rows.good
        if arguments.write:
            # at once: hours of one part are not lost by another
            write_parts({name: rows.rows})
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main())
