"""What a plan can't mean about its stages, when each applied, and the ranges measured; knows no files."""

from collections import Counter
from collections.abc import Iterator
from datetime import date, time
from zoneinfo import ZoneInfo, available_timezones

from imu_rom.dose.own_range import measured_motion, own_range_for
from imu_rom.dose.plan import Plan
from imu_rom.dose.plan_fault import FieldPath, PlanFault, nearest
from imu_rom.dose.zero import OWN_STANDING
from imu_rom.motion.joints import JOINTS

__all__ = ["calendar_faults", "day_faults", "own_range_faults", "share_faults"]

_NOON = time(12)


def day_faults(plan: Plan) -> Iterator[PlanFault]:
    """Find what can't be the person's days.

    Parameters
    ----------
    plan : Plan
        A plan whose fields have the right kinds of value.

    Yields
    ------
    PlanFault
        Each with its field.
    """
    if plan.day_starts_at is not None and plan.day_starts_at >= _NOON:
        yield PlanFault(
            ("plan", "day_starts_at"),
            "must lie before noon, as what comes before it belongs to the evening before",
            plan.day_starts_at.isoformat(),
        )
    if plan.time_zone is not None:
        try:
            ZoneInfo(plan.time_zone)
        # what zoneinfo raises for a name that is none, a folder of names and a path out of it
        except (KeyError, ValueError, OSError):
            yield PlanFault(
                ("plan", "time_zone"),
                "must be a time zone's name such as 'Europe/Berlin'",
                repr(plan.time_zone),
                _nearest_zone(plan.time_zone),
            )


def _nearest_zone(word: str) -> str:
    # by the last part too: who writes "Berlin" means Europe/Berlin
    zones = sorted(available_timezones())
    place = word.rpartition("/")[2].strip().replace(" ", "_").lower()
    same = [each for each in zones if each.rpartition("/")[2].lower() == place]
    return f"perhaps {same[0]!r} was meant" if same else nearest(word, zones)


def calendar_faults(plan: Plan) -> Iterator[PlanFault]:
    """Find contradictions in when which stage applied.

    Parameters
    ----------
    plan : Plan
        A plan whose fields have the right kinds of value.

    Yields
    ------
    PlanFault
        Each with its field.
    """
    for index, stage in enumerate(plan.stages):
        if stage.weeks is not None and stage.weeks[0] > stage.weeks[1]:
            yield PlanFault(
                ("stage", index, "weeks"), "must be [first, last] with first not after last", str(list(stage.weeks))
            )
    if plan.calendar:
        yield from _entry_faults(plan)
    else:
        yield from _date_faults(plan)


def _entry_faults(plan: Plan) -> Iterator[PlanFault]:
    names = [each.name for each in plan.stages]
    before: date | None = None
    for index, entry in enumerate(plan.calendar):
        if entry.stage not in names:
            yield PlanFault(
                ("calendar", index, "stage"),
                f"must be the name of a stage of the plan ({', '.join(names)})",
                repr(entry.stage),
                nearest(entry.stage, names),
            )
        if before is not None and entry.from_date <= before:
            yield PlanFault(
                ("calendar", index, "from"),
                f"must come after the entry before it (after {before})",
                str(entry.from_date),
                "put the entries in order of days, one a day",
            )
        before = entry.from_date
    if plan.current_stage in names and plan.current_stage not in {each.stage for each in plan.calendar}:
        yield PlanFault(
            ("plan", "stage"),
            "must be a stage of the calendar, which says when each applied",
            repr(plan.current_stage),
            "add a [[calendar]] entry for it, or leave stage out",
        )
    for index, stage in enumerate(plan.stages):
        for field, day in (("from", stage.from_date), ("until", stage.until_date)):
            if day is not None:
                yield PlanFault(
                    ("stage", index, field),
                    "must be left out where there is a [[calendar]], which says when each stage applied",
                    str(day),
                )


def _date_faults(plan: Plan) -> Iterator[PlanFault]:
    before: tuple[str, date] | None = None
    until: tuple[str, date] | None = None
    for index, stage in enumerate(plan.stages):
        path: FieldPath = ("stage", index)
        if stage.until_date is not None:
            if stage.from_date is None:
                yield PlanFault((*path, "until"), "must come with from, the stage's first day", str(stage.until_date))
            elif stage.until_date < stage.from_date:
                yield PlanFault(
                    (*path, "until"), f"must not lie before from ({stage.from_date})", str(stage.until_date)
                )
        if stage.from_date is None:
            continue
        if before is not None and stage.from_date <= before[1]:
            yield PlanFault(
                (*path, "from"),
                f"must come after the first day of stage {before[0]!r} ({before[1]})",
                str(stage.from_date),
                "put the stages in order of days; where one comes back, say so by [[calendar]]",
            )
        elif until is not None and stage.from_date <= until[1]:
            yield PlanFault(
                (*path, "from"),
                f"must come after the last day of stage {until[0]!r} ({until[1]}), or the stages overlap",
                str(stage.from_date),
            )
        before = (stage.name, stage.from_date)
        until = None if stage.until_date is None else (stage.name, stage.until_date)


def own_range_faults(plan: Plan) -> Iterator[PlanFault]:
    """Find contradictions in the ranges measured.

    Parameters
    ----------
    plan : Plan
        A plan whose fields have the right kinds of value.

    Yields
    ------
    PlanFault
        Each with its field.
    """
    keys = Counter((each.side, each.measured_on, *measured_motion(plan, each)) for each in plan.own_ranges)
    for index, own in enumerate(plan.own_ranges):
        path: FieldPath = ("own_range", index)
        joint, motion = measured_motion(plan, own)
        if keys[own.side, own.measured_on, joint, motion] > 1:
            yield PlanFault(
                (*path, "on"),
                "must differ from one own_range to the next of the same side, joint and motion",
                f"{own.measured_on} twice for the {own.side} side",
            )
        if (own.joint is None) != (own.motion is None):
            missing = "motion" if own.motion is None else "joint"
            yield PlanFault((*path, missing), "must be given where the other of joint and motion is", "nothing")
            continue
        if joint is None or motion is None:
            # the site is unknown, which is a fault of its own
            continue
        if joint not in JOINTS:
            yield PlanFault((*path, "joint"), f"must be one of {', '.join(JOINTS)}", repr(joint))
            continue
        motions = {each.name: each for each in JOINTS[joint].motions}
        if motion not in motions:
            yield PlanFault(
                (*path, "motion"), f"must be a motion of the {joint} ({' or '.join(motions)})", repr(motion)
            )
            continue
        low, high = motions[motion].possible_range_deg
        if not low <= own.own_range_deg <= high:
            yield PlanFault(
                (*path, "deg"),
                f"must lie in what {joint} {motion} can reach, {low:g} to {high:g} deg",
                f"{own.own_range_deg:g}",
            )


def share_faults(plan: Plan, *, published: bool) -> Iterator[PlanFault]:
    """Find contradictions in windows that are shares of the own range.

    Parameters
    ----------
    plan : Plan
        A plan whose fields have the right kinds of value.
    published : bool
        True for a published programme, which is nobody's yet, so that no range was measured.

    Yields
    ------
    PlanFault
        Each with its field.
    """
    for index, stage in enumerate(plan.stages):
        for number, exercise in enumerate(stage.exercises):
            path: FieldPath = ("stage", index, "exercise", number)
            shares, reference = exercise.share_of_own_range, exercise.end_range_reference
            if shares is None:
                if reference == "own range":
                    yield PlanFault(
                        (*path, "end_range_reference"),
                        "must be 'neutral' where end_range_deg is in degrees",
                        repr(reference),
                        "write end_range_deg = '80 % of own range' or '80 to 100 % of own range'",
                    )
                continue
            field = (*path, "end_range_deg")
            if reference == "neutral":
                yield PlanFault(
                    (*path, "end_range_reference"),
                    "must be 'own range', or left out, where end_range_deg is a share of it",
                    repr(reference),
                )
            low, high = shares
            if not 0 < low < high or (high > 2 and high != float("inf")):
                yield PlanFault(
                    field,
                    "must be a share of more than 0 % and at most 200 %, low before high",
                    f"{100 * low:g} to {100 * high:g} %",
                )
            if exercise.zero == OWN_STANDING:
                yield PlanFault(
                    (*path, "zero"),
                    "must be the joint's own zero where end_range_deg is a share of the own range",
                    repr(exercise.zero),
                )
            own = own_range_for(plan, exercise)
            if own is not None and own.own_range_deg <= 0:
                yield PlanFault(
                    field, "must be in degrees where the own range is not above 0 deg", f"{own.own_range_deg:g} deg"
                )
            if own is None and not published:
                yield PlanFault(
                    field,
                    f"must be in degrees as long as the own range of {exercise.side} {exercise.joint} "
                    f"{exercise.motion} is not measured",
                    "a share of it",
                    "measure it and add [[own_range]] with side, deg, on and by",
                )
