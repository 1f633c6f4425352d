"""The plans of a course: versions by the day from which each applies."""

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path

from imu_rom.dose.days import day_of
from imu_rom.dose.exercise import Exercise
from imu_rom.dose.plan import Plan
from imu_rom.dose.plan_file import plan_sha256, read_plan
from imu_rom.errors import CourseError
from imu_rom.recording.model import InputFile

__all__ = ["CoursePlans", "PlanVersion", "read_plans"]


@dataclass(frozen=True)
class PlanVersion:
    """One version of the plan.

    Parameters
    ----------
    file : InputFile
        Its place within the course folder, and its SHA-256.
    plan : Plan
        What it says.
    """

    file: InputFile
    plan: Plan


@dataclass(frozen=True)
class CoursePlans:
    """All versions of one person's plan.

    Parameters
    ----------
    versions : tuple of PlanVersion
        At least one, in order of the days from which they apply; no two from the same day.
    """

    versions: tuple[PlanVersion, ...]

    @property
    def latest(self) -> Plan:
        """The version that applies last."""
        return self.versions[-1].plan

    @property
    def plans(self) -> tuple[Plan, ...]:
        """The versions' plans, in order."""
        return tuple(each.plan for each in self.versions)

    @property
    def exercises(self) -> tuple[Exercise, ...]:
        """All exercises of all stages and versions; a name may come back."""
        return tuple(one for plan in self.plans for stage in plan.stages for one in stage.exercises)

    def version_on(self, day: date) -> PlanVersion | None:
        """Give the version that applied on a day.

        Parameters
        ----------
        day : date
            A day of the person's calendar.

        Returns
        -------
        PlanVersion or None
            None before the first version's day.
        """
        begun = [each for each in self.versions if each.plan.from_date is None or each.plan.from_date <= day]
        return begun[-1] if begun else None

    def plan_on(self, day: date) -> Plan | None:
        """Give the plan that applied on a day.

        Parameters
        ----------
        day : date
            A day of the person's calendar.

        Returns
        -------
        Plan or None
            None before the first version's day.
        """
        version = self.version_on(day)
        return None if version is None else version.plan

    def day_of(self, moment: datetime) -> date:
        """Tell which day of the person's calendar a moment belongs to.

        Parameters
        ----------
        moment : datetime
            With its offset from UTC.

        Returns
        -------
        date
            By the rules of the version that applied then: its time zone, and when its day starts.
        """
        # the version depends on the day, and the day on the version: the calendar's date is near enough to begin with
        first = self.plan_on(moment.date()) or self.versions[0].plan
        day = day_of(moment, first)
        return day_of(moment, self.plan_on(day) or first)


def read_plans(folder: Path, *, largest_mb: float = 1.0) -> CoursePlans:
    """Read ``plan.toml`` and ``plans/*.toml`` of a course folder.

    Parameters
    ----------
    folder : Path
        The course folder.
    largest_mb : float
        A larger file is refused unread.

    Returns
    -------
    CoursePlans
        Versions in order.

    Raises
    ------
    CourseError
        There is no plan, two apply from the same day, or two are of different people or tendons.
    PlanError
        A plan can't be read or contradicts itself.
    """
    files = [each for each in (folder / "plan.toml", *sorted((folder / "plans").glob("*.toml"))) if each.exists()]
    if not files:
        raise CourseError(
            "must hold a plan, plan.toml or plans/*.toml, got neither", where=str(folder), do="put the plan there"
        )
    versions = []
    for file in files:
        plan = read_plan(file, largest_mb=largest_mb)
        digest = plan_sha256(file, largest_mb=largest_mb)
        versions.append(PlanVersion(InputFile(file.relative_to(folder).as_posix(), digest, "plan"), plan))
    versions.sort(key=lambda each: (each.plan.from_date or date.min, each.file.name))
    _check_one_course(versions, folder)
    return CoursePlans(tuple(versions))


def _check_one_course(versions: Sequence[PlanVersion], folder: Path) -> None:
    for earlier, later in itertools.pairwise(versions):
        both = f"{earlier.file.name} and {later.file.name}"
        if earlier.plan.from_date == later.plan.from_date:
            day = "from the beginning" if later.plan.from_date is None else f"from {later.plan.from_date}"
            raise CourseError(
                f"two plans must not apply to the same day, got {both}, which both apply {day}",
                where=str(folder),
                do="give each version its own day by from in its [plan], or take one away",
            )
        for what in ("patient", "subject", "tendon_site"):
            one, other = getattr(earlier.plan, what), getattr(later.plan, what)
            if None not in {one, other} and one != other:
                raise CourseError(
                    f"all plans of a course must be for one person and one tendon, got {both}, for {one!r} and "
                    f"{other!r}",
                    where=str(folder),
                    do="give each its own folder",
                )
