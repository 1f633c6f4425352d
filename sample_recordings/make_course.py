#!/usr/bin/env python
"""Make the sample course anew: `python make_course.py FOLDER`. All of it is invented.

The recordings come from `imu-rom simulate` with fixed seeds, the results from the analysis that `imu-rom progress` does
of new recordings; only the plan and the diary's story are written by hand. Of two sessions the recordings are kept.

    python sample_recordings/make_course.py /tmp/course                # into a new folder
    python sample_recordings/make_course.py sample_recordings/course   # in its place
    python sample_recordings/make_course.py --check                    # compare all files with a course made anew
    python sample_recordings/make_course.py --check --sessions 01,13   # the same of a few of its sessions
"""

import argparse
import contextlib
import csv
import io
import random
import re
import shutil
import sys
import tempfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from pathlib import Path

from imu_rom.course.diary_columns import COLUMNS
from imu_rom.course.folder import read_course
from imu_rom.dose.plan_file import read_plan
from imu_rom_cli import main

COURSE = Path(__file__).with_name("course")
FIRST, LAST = date(2026, 11, 30), date(2027, 2, 21)


@dataclass(frozen=True)
class Session:
    """A session with sensors: its BIDS label, when, the seed, degrees past the middle asked for, and what differs."""

    label: str
    at: datetime
    seed: int
    offset_deg: float = 0.0
    routine: tuple[str, ...] = ()
    kept: bool = False


def _session(
    label: str, at: str, seed: int, offset_deg: float = 0.0, routine: tuple[str, ...] = (), *, kept: bool = False
) -> Session:
    return Session(label, datetime.fromisoformat(f"{at}+01:00"), seed, offset_deg, routine, kept)


TOO_MANY = ("set_repetitions=[15,15]",)
SESSIONS = (
    # floor level
    _session("01", "2026-11-30T18:32:10", 101),
    _session("02", "2026-12-03T18:40:31", 102),
    _session("03", "2026-12-08T07:21:05", 103),
    _session("04", "2026-12-11T18:15:47", 204),
    # the first degrees past neutral
    _session("05", "2026-12-15T18:28:02", 105, 2.0),
    _session("06", "2026-12-19T09:02:39", 106, 2.0),
    # away for a week; then more than prescribed, once after midnight
    _session("07", "2026-12-29T19:11:20", 107, 2.0, TOO_MANY),
    _session("08", "2027-01-01T00:36:54", 108, 2.0, TOO_MANY),
    # back to the floor after the flare
    _session("09", "2027-01-06T18:33:28", 109),
    _session("10", "2027-01-09T10:12:13", 110),
    _session("11", "2027-01-13T18:05:36", 111),
    _session("12", "2027-01-16T09:40:55", 112),
    # past neutral again, but stopping short
    _session("13", "2027-01-19T18:22:18", 113, -9.0, kept=True),
    _session("14", "2027-01-23T09:31:44", 114, -9.0),
    _session("15", "2027-01-26T18:47:09", 115, -8.0),
    _session("16", "2027-01-30T10:03:51", 116, -7.0),
    # reaching it again
    _session("17", "2027-02-02T18:36:25", 117, 1.5),
    _session("18", "2027-02-05T18:19:40", 118, 2.0),
    # further
    _session("19", "2027-02-08T18:42:33", 119, 2.0),
    _session("20", "2027-02-11T07:24:16", 120, 2.0),
    _session("21", "2027-02-14T10:16:08", 121, 2.0),
    _session("22", "2027-02-17T18:30:57", 122, 2.0, kept=True),
    _session("23", "2027-02-20T09:48:21", 123, 2.0),
)

# the diary's story: pain before, during, after and next morning (0 to 10), stiffness (minutes), from these days on,
# in between along straight lines
STORY = {
    date(2026, 11, 30): (3, 4, 4, 4, 30),
    date(2026, 12, 7): (2, 3, 3, 3, 20),
    date(2026, 12, 13): (1, 2, 2, 2, 15),
    date(2026, 12, 20): (1, 2, 2, 2, 10),
    date(2026, 12, 28): (1, 2, 2, 2, 10),
    date(2026, 12, 30): (2, 3, 3, 3, 20),
    date(2027, 1, 1): (3, 4, 5, 4, 30),
    date(2027, 1, 2): (4, 5, 6, 6, 50),
    date(2027, 1, 3): (5, 5, 5, 5, 40),
    date(2027, 1, 5): (4, 4, 4, 4, 30),
    date(2027, 1, 10): (2, 3, 3, 3, 20),
    date(2027, 1, 17): (1, 2, 2, 2, 10),
    date(2027, 2, 1): (1, 2, 2, 2, 10),
    date(2027, 2, 10): (1, 2, 2, 2, 10),
    date(2027, 2, 21): (1, 1, 1, 1, 5),
}
# days whose next morning has not settled
UNSETTLED = {date(2026, 12, 30), date(2026, 12, 31), date(2027, 1, 1), date(2027, 1, 2), date(2027, 2, 8)}
MORNING_AFTER_STEP = {date(2027, 2, 8): (3, 20)}
# away, then nothing written at all; single sessions ("am", "pm") and days that were forgotten
SILENT = {date(2026, 12, 21) + timedelta(days=i) for i in range(7)} | {
    date(2026, 12, 6),
    date(2027, 1, 10),
    date(2027, 1, 24),
    date(2027, 1, 25),
}
FORGOTTEN = {
    (date(2026, 12, 2), "am"), (date(2026, 12, 9), "pm"), (date(2026, 12, 17), "am"), (date(2027, 1, 14), "am"),
    (date(2027, 1, 21), "am"), (date(2027, 1, 28), "pm"), (date(2027, 2, 9), "am"), (date(2027, 2, 16), "am"),
}  # fmt: skip
NOT_DONE = {(date(2026, 12, 12), "pm"), (date(2027, 1, 3), "am"), (date(2027, 1, 3), "pm"), (date(2027, 1, 4), "am")}
IN_PART = {(date(2027, 1, 4), "pm"), (date(2027, 1, 5), "am"), (date(2027, 2, 18), "am")}
THREE_TIMES = {date(2026, 12, 28) + timedelta(days=i) for i in range(6)}
LOAD_TESTS = {date(2026, 12, 13): 2, date(2027, 1, 17): 2, date(2027, 2, 7): 2, date(2027, 2, 20): 3}
OTHER_LOAD = {
    date(2026, 12, 5): "5 km walk",
    date(2027, 1, 1): "12 km walk, hilly",
    date(2027, 1, 2): "10 km walk in snow",
    date(2027, 2, 13): "6 km walk",
}
PAINKILLER = {date(2027, 1, 2), date(2027, 1, 3)}
NOTES = {
    (date(2026, 12, 12), "pm"): "guests all day",
    (date(2026, 12, 28), "am"): "a week away without the exercises, will catch up",
    (date(2026, 12, 29), "pm"): "felt good, 15 instead of 10",
    (date(2027, 1, 2), "pm"): "throbbing in the evening, limped home",
    (date(2027, 1, 3), "am"): "no exercises, heel hurts at every step",
    (date(2027, 1, 4), "pm"): "clinic called: back to the floor",
    (date(2027, 1, 19), "pm"): "kept the heel a bit higher",
    (date(2027, 2, 2), "pm"): "all the way down again",
    (date(2027, 2, 20), "am"): "hops still felt in the heel",
}


def _on_line(day: date) -> list[float]:
    """Give the story's values of a day."""
    earlier = max(each for each in STORY if each <= day)
    later = min((each for each in STORY if each > day), default=earlier)
    share = (day - earlier).days / max((later - earlier).days, 1)
    return [one + share * (other - one) for one, other in zip(STORY[earlier], STORY[later], strict=True)]


def _person_day(session: Session) -> date:
    """Give the day that a session belongs to: after midnight, the evening before."""
    return (session.at - timedelta(hours=3)).date()


def _times(day: date, chance: random.Random) -> Iterator[tuple[str, datetime]]:
    """Give when the exercises of a day are done; recorded ones when they were recorded."""
    at = {name: datetime(day.year, day.month, day.day, hour) for name, hour in (("am", 7), ("noon", 13), ("pm", 18))}  # noqa: DTZ001  a diary has no zones
    for name, usual in at.items():
        at[name] = usual + timedelta(minutes=5 * chance.randrange(12))
    for each in SESSIONS:
        if _person_day(each) == day:
            name = "pm" if each.at.date() != day or each.at.hour > 15 else "am"
            moment = each.at.replace(tzinfo=None)
            at[name] = moment.replace(minute=moment.minute // 5 * 5, second=0)
    if day not in THREE_TIMES:
        del at["noon"]
    yield from at.items()


def diary_text() -> str:
    """Write the diary: the story with a little chance, in whole numbers as people write them.

    Returns
    -------
    str
        The text of ``diary.csv``.
    """
    plan, chance = read_plan(COURSE / "plan.toml"), random.Random(12)  # noqa: S311  a story, no secret
    text = io.StringIO()
    writer = csv.DictWriter(text, COLUMNS, lineterminator="\n")
    writer.writeheader()
    for day in (FIRST + timedelta(days=i) for i in range((LAST - FIRST).days + 1)):
        before, during, after, morning, stiffness_min = (
            round(value + chance.choice((0, 0, 0, -0.6, 0.4))) for value in _on_line(day)
        )
        morning = morning if day in UNSETTLED else min(morning, before + 1)
        morning, stiffness_min = MORNING_AFTER_STEP.get(day, (morning, 5 * round(stiffness_min / 5)))
        stage = plan.stage_on(day)
        lines = list(_times(day, chance))
        if day in SILENT or stage is None:
            continue
        for name, at in lines:
            if (day, name) in FORGOTTEN:
                continue
            done = "no" if (day, name) in NOT_DONE else "part" if (day, name) in IN_PART else "yes"
            line: dict[str, object] = {
                "date": at.date().isoformat(),
                "time": f"{at:%H:%M}",
                "exercise": stage.exercises[0].name,
                "side": stage.exercises[0].side,
                "done": done,
                "pain_before": before,
                "note": NOTES.get((day, name), ""),
            }
            if done != "no":
                line |= {"pain_during": during, "pain_after": after}
            if at == lines[0][1] or (day, "am") in FORGOTTEN:
                # once a day, filled in on the day after
                line |= {"pain_next_morning": "" if day == LAST else morning}
                line |= {"stiffness_min": "" if day == LAST else stiffness_min}
                line |= {"load_test_pain": LOAD_TESTS.get(day, ""), "other_load": OTHER_LOAD.get(day, "")}
                line |= {"painkiller": "yes" if day in PAINKILLER else ""}
            writer.writerow(line)
    return text.getvalue()


def _simulate(session: Session, work: Path) -> None:
    out = work / "recordings" if session.kept else work / "others" / session.label
    words = ["simulate", "--plan", str(COURSE / "plan.toml"), "--out", str(out), "--seed", str(session.seed)]
    words += ["--session", session.label, "--recorded-at", session.at.isoformat(), "--rate", "50", "--digits", "5"]
    words += ["--depth-offset", str(session.offset_deg)]
    words += ["--person", "zero_shift_sd_deg=1.0"]
    for each in ("sits_before=false", "end_range_sd_deg=1.2", *session.routine):
        words += ["--routine", each]
    with contextlib.redirect_stdout(io.StringIO()):
        code = main(words)
    if code:
        raise SystemExit(f"session {session.label} can't be simulated")


def make(folder: Path, sessions: Sequence[Session] = SESSIONS) -> None:
    """Make the course in a folder.

    Parameters
    ----------
    folder : Path
        Its recordings and results are replaced.
    sessions : sequence of Session
        Which are recorded.
    """
    with tempfile.TemporaryDirectory() as made:
        work = Path(made)
        plan = (COURSE / "plan.toml").read_bytes()
        (work / "plan.toml").write_bytes(plan)
        (work / "others").mkdir()
        for each in sessions:
            print(f"session {each.label} of {_person_day(each)}", file=sys.stderr)  # noqa: T201
            _simulate(each, work)
        course = read_course(work)
        if course.reading.skipped or len(course.reading.analysed) != len(sessions):
            raise SystemExit(f"not all sessions have a result: {course.reading.skipped}")
        for name in ("recordings", "results"):
            shutil.rmtree(folder / name, ignore_errors=True)
        folder.mkdir(parents=True, exist_ok=True)
        (folder / "plan.toml").write_bytes(plan)
        (folder / "diary.csv").write_text(diary_text(), "utf-8", newline="\n")
        if (work / "recordings").exists():
            shutil.copytree(work / "recordings", folder / "recordings")
        for result in sorted((work / "results").glob("*/result.json")):
            place = folder / "results" / result.parent.name
            place.mkdir(parents=True)
            shutil.copy(result, place)


def differences(one: Path, other: Path) -> list[str]:
    """Name the files that differ between two courses, but for what only an index or another version changes.

    Parameters
    ----------
    one, other : Path
        Their folders.

    Returns
    -------
    list of str
        Places within them.
    """
    contents = [
        {
            each.relative_to(folder).as_posix(): re.sub(rb'"Version": "[^"]*"', b"", each.read_bytes())
            for each in folder.rglob("*")
            if each.is_file() and each.name != "imu-rom-index.json"
        }
        for folder in (one, other)
    ]
    return sorted(
        place for place in contents[0].keys() | contents[1].keys() if contents[0].get(place) != contents[1].get(place)
    )


def _run() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("folder", type=Path, nargs="?", default=COURSE)
    parser.add_argument("--check", action="store_true", help="make it elsewhere and compare")
    parser.add_argument("--sessions", metavar="01,13", help="with --check: only these, and what is not of a session")
    asked = parser.parse_args()
    if asked.check:
        labels = [each.label for each in SESSIONS] if asked.sessions is None else asked.sessions.split(",")
        left_out = [f"_ses-{each.label}_" for each in SESSIONS if each.label not in labels]
        with tempfile.TemporaryDirectory() as made:
            make(Path(made) / "course", [each for each in SESSIONS if each.label in labels])
            found = differences(Path(made) / "course", asked.folder)
        differing = [each for each in found if not any(part in each for part in left_out)]
        print("\n".join(["differs:", *differing]) if differing else "the same, byte for byte")  # noqa: T201
        return bool(differing)
    make(asked.folder)
    return 0


if __name__ == "__main__":
    raise SystemExit(_run())
