"""How well slips, creeping and other stances are told apart on simulated sessions, in one table.

    python tests/benchmarks/slips.py [--seeds 50] [--rows slip,joint,...]

Three sets of ten heel drops with a closing pose; the analysis is told the recording, the plan and the first pose.
"""

import argparse
from collections import Counter
from dataclasses import replace

import numpy as np
from session_figures import matched
from session_rows import exercise_for, plan_of

from imu_rom.errors import ImuRomError
from imu_rom.session import analyse
from imu_rom.simulation import Faults, Routine, Slip, simulate_session

ROWS = {
    "none": "nothing slips, closing pose",
    "no pose": "nothing slips, no closing pose",
    "slip": "one sensor slips by 5-15 deg about any axis",
    "joint": "one sensor slips by 5-15 deg about the joint's own axis",
    "slip, no pose": "one sensor slips by 5-15 deg about any axis, no closing pose",
    "creep": "one sensor creeps by 4 deg about the joint's axis",
    "stance": "nothing slips, stands 8 deg off at the end",
}
CODES = ("slip", "slip-or-stance", "zero-drift", "zero-held")
ROUTINE = Routine(sits_before=False, rest_s=30.0, repetitions=10)


def place(session, time_s):
    """Set as a whole number, rest as a half one."""
    for number, one in enumerate(session.truth.sets):
        if time_s < one.start_s:
            return number - 0.5
        if time_s <= one.stop_s:
            return number
    return len(session.truth.sets)


def asked(row, seed):
    """Routine, slip or None, of one session."""
    draw = np.random.default_rng(seed)
    routine = replace(ROUTINE, poses_again="no" if row.endswith("no pose") else "end")
    if row == "stance":
        return replace(routine, closing_off_deg=8.0), None
    if row in {"none", "no pose"}:
        return routine, None
    truth = simulate_session(seed, routine, rate_hz=50.0).truth
    point, size = str(draw.choice(["shank", "foot"])), float(draw.uniform(5, 15))
    if row == "creep":
        start_s, stop_s = truth.pose.stop_s, truth.worn.stop_s
        return routine, Slip(point, start_s, 4.0 * (-1) ** seed, lasts_s=stop_s - start_s, about="joint")
    at_s = float(draw.uniform(truth.sets[0].start_s + 10, truth.sets[-1].stop_s - 10))
    if row == "joint":
        return routine, Slip(point, at_s, size * (-1) ** seed, about="joint")
    return routine, Slip(point, at_s, size)


def measured(row, seed):
    """What was said, whether the slip was found within its set, and the end ranges' errors."""
    routine, slip = asked(row, seed)
    session = simulate_session(seed, routine, faults=Faults(slips=(slip,) if slip else ()), rate_hz=50.0)
    pose = session.truth.pose
    try:
        result = analyse(session.recording, plan_of(exercise_for(routine)), neutral=(pose.start_s, pose.stop_s))
    except ImuRomError as error:
        return ("refused: " + error.what[:40],), False, np.empty(0)
    (answer,) = result.exercises
    said = tuple(sorted({each.code for each in result.findings} & set(CODES)))
    hit = slip is not None and any(
        abs(place(session, each.time_s) - place(session, slip.time_s)) <= 0.5 for each in answer.slips
    )
    errors = np.array(
        [
            found.repetition.end_range_deg + session.truth.zero_shift_deg - done.end_range_deg
            for done, found in matched(session.truth.sets, answer.comparison.sets)
        ]
    )
    return said, hit, errors


def main():
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seeds", type=int, default=50)
    parser.add_argument("--first-seed", type=int, default=1)
    parser.add_argument("--rows", default=";".join(ROWS), help="joined by semicolons")
    options = parser.parse_args()
    print("| sessions | found within the set | what is said | end range RMSE, median and worst session |")
    print("|---|---|---|---|")
    for row in options.rows.split(";"):
        all_found = [measured(row, options.first_seed + index) for index in range(options.seeds)]
        counts = Counter(", ".join(said) or "nothing" for said, _, _ in all_found)
        rms = [float(np.sqrt(np.mean(errors**2))) for _, _, errors in all_found if len(errors)]
        words = "; ".join(f"{count} x {said}" for said, count in counts.most_common())
        hits = sum(hit for _, hit, _ in all_found)
        print(
            f"| {row}: {ROWS[row]} ({options.seeds}) | {hits} | {words} | {np.median(rms):.2f}, {max(rms):.2f} deg |",
            flush=True,
        )


if __name__ == "__main__":
    main()
