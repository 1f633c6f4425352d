"""``imu-rom simulate``: a recording of an invented person with exactly known angles."""

import math
import tomllib
from collections.abc import Iterable
from dataclasses import fields, replace
from datetime import datetime
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from imu_rom.errors import SettingError

if TYPE_CHECKING:
    from imu_rom.dose.exercise import Exercise
    from imu_rom.dose.plan import Plan
    from imu_rom.simulation import Faults, Routine

__all__ = ["command"]

# faults that say where and when
_PLACED = {
    "gap": "POINT:START:LENGTH",
    "stop": "POINT:TIME",
    "slip": "POINT:TIME:DEG",
    "creep": "POINT:START:LENGTH:DEG",
    "clock": "POINT:OFFSET:PPM:RATE",
}


def _value(text: str) -> object:
    """Read a number, boolean or list as TOML has it; anything else is text."""
    try:
        value = tomllib.loads(f"value = {text}")["value"]
    except (ValueError, RecursionError):
        # no TOML value, or one beyond reason
        return text
    return tuple(value) if isinstance(value, list) else value


def _split(option: str, assignment: str) -> tuple[str, str]:
    name, equals, text = assignment.partition("=")
    if not equals:
        raise SettingError(f"must be NAME=VALUE, got {assignment!r}", where=option)
    return name.strip(), text.strip()


def _fits(value: object, kind: str) -> bool:
    """Tell whether a value fits a field's written type."""
    if isinstance(value, bool):
        return "bool" in kind
    if isinstance(value, int):
        return "int" in kind or "float" in kind
    if isinstance(value, float):
        return "float" in kind
    if isinstance(value, tuple):
        return kind.startswith("tuple") and all(isinstance(each, int | float) for each in value)
    return isinstance(value, str) and ("str" in kind or "Literal" in kind)


def _in_words(kind: str) -> str:
    if kind.startswith("tuple"):
        return "a list of numbers such as [0.05, 0.10]"
    words = {"bool": "true or false", "int": "a whole number", "float": "a number"}
    return next((text for part, text in words.items() if part in kind), "a word")


def _has_words_of_its_own(kind: str) -> bool:
    return any(word in kind for word in ("tuple[tuple", "Slip", "OwnClock"))


def _changed(thing: Any, option: str, assignments: Iterable[str], besides: Iterable[str] = ()) -> Any:  # noqa: ANN401 - any of the dataclasses
    """Set fields of a dataclass from NAME=VALUE words; those with lists of lists have words of their own."""
    kinds = {each.name: str(each.type) for each in fields(thing) if not _has_words_of_its_own(str(each.type))}
    for assignment in assignments:
        name, text = _split(option, assignment)
        if name not in kinds:
            raise SettingError(f"unknown name {name!r}; there are {', '.join([*besides, *kinds])}", where=option)
        value = _value(text)
        if not _fits(value, kinds[name]):
            raise SettingError(f"must be {_in_words(kinds[name])}, got {text!r}", where=f"{option} {name}")
        thing = replace(thing, **{name: value})
    return thing


def _faults(assignments: Iterable[str]) -> "Faults":
    """Read the faults that say where and when, and the other ones by their names."""
    from imu_rom.simulation import Faults, OwnClock, Slip  # noqa: PLC0415 - so that --help loads no numpy

    gaps: list[tuple[str, float, float]] = []
    stops: list[tuple[str, float]] = []
    slips: list[Slip] = []
    clocks: list[OwnClock] = []
    others = []
    for assignment in assignments:
        name, text = _split("--fault", assignment)
        if name not in _PLACED:
            others.append(assignment)
            continue
        point, *times = text.split(":")
        try:
            numbers = [float(each) for each in times]
        except ValueError:
            numbers = []
        # the last number of a slip is an angle and a clock's second one its skew, which may be negative
        times_only = numbers[:1] if name == "clock" else numbers[:-1] if name in {"slip", "creep"} else numbers
        if len(numbers) != _PLACED[name].count(":") or not all(0 <= each < math.inf for each in times_only):
            unit = "s, ppm and Hz" if name == "clock" else "seconds"
            raise SettingError(f"must be {_PLACED[name]} in {unit}, got {text!r}", where=f"--fault {name}")
        if name == "gap":
            gaps.append((point, numbers[0], numbers[1]))
        elif name == "slip":
            slips.append(Slip(point, numbers[0], numbers[1]))
        elif name == "creep":
            slips.append(Slip(point, numbers[0], numbers[2], lasts_s=numbers[1], about="joint"))
        elif name == "clock":
            clocks.append(OwnClock(point, *numbers))
        else:
            stops.append((point, numbers[0]))
    faults: Faults = _changed(Faults(), "--fault", others, _PLACED)
    return replace(faults, gaps=tuple(gaps), sensor_stops_s=tuple(stops), slips=tuple(slips), clocks=tuple(clocks))


def _stage(plan: "Plan", named: str | None, recorded_at: str | None) -> str:
    """Name the stage that is done: the named one, that of the day, or the plan's current one."""
    names = [each.name for each in plan.stages]
    if named is not None:
        if named not in names:
            raise SettingError(f"must be one of {', '.join(names)}, got {named!r}", where="--stage")
        return named
    try:
        day = None if recorded_at is None else datetime.fromisoformat(recorded_at).date()
    except ValueError:
        day = None  # said where the time is written
    then = None if day is None else plan.stage_on(day)
    return plan.current_stage if then is None else then.name


_SCENARIOS = (
    "Scenarios: usual, partial, fast, long-hold, hold, stretch, floor, floor-bent-knee, heel-raised, short-rests, "
    "interrupted, zero-off, closing-pose, poses-between, other-stance, locked-soft-tissue. "
    "What can be set by name, and the values taken, stand in the truth file of each recording."
)


@click.command(epilog=_SCENARIOS)
@click.option(
    "--plan", "plan_file", metavar="PLAN.toml", type=click.Path(path_type=Path), required=True, help="What is done."
)
@click.option(
    "--exercise",
    "exercises",
    metavar="NAME",
    multiple=True,
    help="Exercise of the plan; may be left out where there is one. Several are done one after the other.",
)
@click.option("--stage", metavar="NAME", help="Stage of the plan; left out: the one of the day in --recorded-at.")
@click.option("--seed", type=click.IntRange(min=0), default=1, show_default=True, help="Same seed, same recording.")
@click.option("--rate", "rate_hz", type=float, default=100.0, show_default=True, help="Sampling rate in Hz.")
@click.option("--scenario", metavar="NAME", default="usual", show_default=True, help="How it is done; see below.")
@click.option("--depth-offset", "depth_offset_deg", type=float, default=0.0, help="Degrees past the middle asked for.")
@click.option("--routine", metavar="NAME=VALUE", multiple=True, help="Set a part of what is done.")
@click.option("--person", metavar="NAME=VALUE", multiple=True, help="Set how people vary.")
@click.option("--sensor-errors", metavar="NAME=VALUE", multiple=True, help="Set an error of the sensors.")
@click.option(
    "--fault",
    metavar="NAME=VALUE",
    multiple=True,
    help="gap=POINT:START:LENGTH, stop=POINT:TIME, slip=POINT:TIME:DEG, creep=POINT:START:LENGTH:DEG, "
    "clock=POINT:OFFSET:PPM:RATE, ...",
)
@click.option("--session", "session_label", metavar="LABEL", help="BIDS session label.")
@click.option("--run", metavar="LABEL", help="BIDS run label.")
@click.option("--recorded-at", metavar="TIME", help="Time of the first sample, RFC 3339 with offset.")
@click.option(
    "--with-reference", is_flag=True, help="Write the true joint angle beside the sensors, as JNTANG channel."
)
@click.option("--digits", type=click.IntRange(1, 9), default=5, show_default=True, help="Digits after the point.")
@click.option(
    "--out", "folder", metavar="FOLDER", type=click.Path(path_type=Path), required=True, help="Where the dataset is."
)
def command(
    plan_file: Path,
    exercises: tuple[str, ...],
    stage: str | None,
    seed: int,
    rate_hz: float,
    scenario: str,
    depth_offset_deg: float,
    routine: tuple[str, ...],
    person: tuple[str, ...],
    sensor_errors: tuple[str, ...],
    fault: tuple[str, ...],
    session_label: str | None,
    run: str | None,
    recorded_at: str | None,
    with_reference: bool,
    digits: int,
    folder: Path,
) -> None:
    """Make a recording of an invented person who follows a plan, with exactly known angles.

    Of several exercises the recording has events that say when each was done; where leg, shoe or heel lift change, the
    sensors are taken off and put on again, with a new neutral pose.

    Writes a BIDS Motion dataset, or adds to one that it made before. The truth lies in sourcedata/truth.
    """
    from imu_rom.dose.plan_file import read_plan  # noqa: PLC0415 - so that --help loads no numpy
    from imu_rom.exchange.simulated_dataset import add_simulated_session  # noqa: PLC0415
    from imu_rom.simulation import (  # noqa: PLC0415
        SCENARIOS,
        Faults,
        Person,
        Routine,
        SensorErrors,
        routine_from_exercise,
        simulate_session,
        simulate_wearings,
    )

    if scenario not in SCENARIOS:
        raise SettingError(f"must be one of {', '.join(SCENARIOS)}, got {scenario!r}", where="--scenario")
    plan = read_plan(plan_file)
    plan = replace(plan, current_stage=_stage(plan, stage, recorded_at))
    who = _changed(SCENARIOS[scenario].apply(Routine(), Person())[1], "--person", person)

    def routine_of(exercise: "Exercise") -> "Routine":
        planned = routine_from_exercise(exercise, depth_offset_deg=depth_offset_deg)
        changed: Routine = _changed(SCENARIOS[scenario].apply(planned, Person())[0], "--routine", routine)
        return changed

    named = [plan.exercise(name) for name in exercises or (None,)]
    wearings = [[routine_of(each) for each in alike] for _, alike in groupby(named, key=lambda each: each.worn)]
    doing, *then = wearings[0]
    errors, faults = _changed(SensorErrors(), "--sensor-errors", sensor_errors), _faults(fault)
    subject = plan.subject or "invented"
    if len(wearings) == 1:
        simulated = simulate_session(seed, doing, who, errors, faults, rate_hz=rate_hz, subject=subject, then=then)
    elif faults == Faults():
        simulated = simulate_wearings(seed, wearings, who, errors, rate_hz=rate_hz, subject=subject)
    else:
        raise SettingError("can't be simulated where the sensors are moved to another leg or shoe", where="--fault")
    asked = {"seed": seed, "rate_hz": rate_hz, "scenario": scenario, "routine": doing, "person": who}
    if simulated.then:
        asked["then"] = simulated.then
    motion = add_simulated_session(
        folder,
        simulated,
        subject=subject,
        asked=asked | {"sensor_errors": errors, "faults": faults},
        session_label=session_label,
        run=run,
        recorded_at=recorded_at,
        with_stamps=bool(faults.doubled_share or faults.stamp_jitter_s),
        with_reference=with_reference,
        digits=digits,
    )
    counts = ", ".join(str(len(each.repetitions)) for each in simulated.truth.sets)
    minutes = simulated.recording.duration_s / 60
    click.echo(
        f"Wrote {motion}: {minutes:.1f} min, sets of {counts} repetitions. Invented data: no person was measured."
    )
