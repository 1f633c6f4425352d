"""Which plan each recording of a dataset is compared with: one for all, or a folder of plans by person."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from imu_rom.course.analysing import no_stage
from imu_rom.course.plans import CoursePlans, PlanVersion
from imu_rom.dose.plan_file import plan_sha256, read_plan
from imu_rom.errors import ImuRomError, PlanError
from imu_rom.recording.model import InputFile

if TYPE_CHECKING:
    from imu_rom.dose.study import Study

__all__ = ["CohortPlans", "NotPairedError", "plan_of", "read_cohort_plans"]


class NotPairedError(ImuRomError):
    """A recording has no plan, or nothing tells which of several.

    Parameters
    ----------
    code : str
        Stable words for why.
    what : str
        The sentence, as other errors have it.
    do : str
        What to do about it.
    """

    def __init__(self, code: str, what: str, *, do: str = "") -> None:
        self.code = code
        super().__init__(what, do=do)


@dataclass(frozen=True)
class CohortPlans:
    """All plans of a cohort.

    Parameters
    ----------
    own : dict of str to tuple of PlanVersion
        Plans that name a person, by BIDS subject label, in order of the days from which they apply.
    for_all : tuple of PlanVersion
        Plans for whoever has none of their own.
    faults : tuple of (str, str)
        Files of a folder of plans that can't be used, each with a sentence.
    """

    own: dict[str, tuple[PlanVersion, ...]]
    for_all: tuple[PlanVersion, ...]
    faults: tuple[tuple[str, str], ...] = ()

    def of(self, participant: str | None) -> tuple[PlanVersion, ...]:
        """Give the plans that may be meant for a person.

        Parameters
        ----------
        participant : str or None
            BIDS subject label.

        Returns
        -------
        tuple of PlanVersion
            Their own; without any, those that name nobody.
        """
        return self.own.get(participant or "", ()) or self.for_all

    @property
    def files(self) -> tuple[InputFile, ...]:
        """All files that are used, in order of names."""
        versions = [*self.for_all, *(each for one in self.own.values() for each in one)]
        return tuple(sorted({each.file for each in versions}, key=lambda each: each.name))

    @property
    def studies(self) -> tuple[dict[str, object], ...]:
        """Different declarations of a study, None among them, each with the first file that has it."""
        versions = [*self.for_all, *(each for one in self.own.values() for each in one)]
        found: dict[Study | None, str] = {}
        for each in sorted(versions, key=lambda each: each.file.name):
            found.setdefault(each.plan.study, each.file.name)
        return tuple({"plan": name, "declared": study} for study, name in found.items())


def read_cohort_plans(path: Path, *, largest_mb: float = 1.0) -> CohortPlans:
    """Read a plan for all, or all plans of a folder.

    Parameters
    ----------
    path : Path
        A plan, or a folder with plans (``*.toml``, at any depth).
    largest_mb : float
        A larger file is refused unread.

    Returns
    -------
    CohortPlans
        One file is for everybody, whatever name it has in it: a recording of somebody else is then refused by itself.

    Raises
    ------
    PlanError
        The one file can't be used, or no file of the folder can.
    """
    if not path.is_dir():
        return CohortPlans({}, (_version(path, path.name, largest_mb),))
    own: dict[str, list[PlanVersion]] = {}
    for_all, faults = [], []
    for file in sorted(path.rglob("*.toml")):
        name = file.relative_to(path).as_posix()
        try:
            version = _version(file, name, largest_mb)
        except PlanError as error:
            # whose it is can't be told, and the others' recordings can go on
            faults.append((name, str(error).replace(f"{file.parent}/", "")))
            continue
        subject = version.plan.subject
        for_all.append(version) if subject is None else own.setdefault(subject, []).append(version)
    if not own and not for_all:
        what = f"none of its {len(faults)} plans can be used: {faults[0][1]}" if faults else "holds no plan (*.toml)"
        raise PlanError(what.rstrip("."), where=str(path), do="put at least one plan there")
    return CohortPlans(
        {subject: _in_order(each) for subject, each in sorted(own.items())}, _in_order(for_all), tuple(faults)
    )


def _version(file: Path, name: str, largest_mb: float) -> PlanVersion:
    plan = read_plan(file, largest_mb=largest_mb)
    return PlanVersion(InputFile(name, plan_sha256(file, largest_mb=largest_mb), "plan"), plan)


def _in_order(versions: Sequence[PlanVersion]) -> tuple[PlanVersion, ...]:
    return tuple(sorted(versions, key=lambda each: (_from(each), each.file.name)))


def _from(version: PlanVersion) -> date:
    return version.plan.from_date or date.min


def plan_of(versions: Sequence[PlanVersion], recorded_at: str | None, task: str | None) -> PlanVersion:
    """Choose the plan that held when a recording was made.

    Parameters
    ----------
    versions : sequence of PlanVersion
        One person's, in order.
    recorded_at : str or None
        RFC 3339 time with offset.
    task : str or None
        BIDS task label of the recording: of plans that apply from the same day (one for each side, say) the one with an
        exercise of that name is meant.

    Returns
    -------
    PlanVersion
        The one; which stage of it held is left to the analysis.

    Raises
    ------
    NotPairedError
        There is none, or more than one.
    """
    if not versions:
        raise NotPairedError(
            "no-plan", "no plan is for this person", do="add one with their patient or bids_subject in its [plan]"
        )
    held = [*versions]
    if len({_from(each) for each in versions}) > 1:
        if recorded_at is None:
            raise NotPairedError(
                "no-time",
                "does not say when it was made, and the person's plans are told apart by days",
                do="add its acq_time with an offset from UTC to its _scans.tsv",
            )
        day = CoursePlans(tuple(versions)).day_of(datetime.fromisoformat(recorded_at))
        begun = [each for each in versions if _from(each) <= day]
        if not begun:
            raise NotPairedError("no-stage", no_stage(day).rstrip("."))
        held = [each for each in begun if _from(each) == _from(begun[-1])]
    if len(held) > 1:
        shown = [each for each in held if task in {one.name for stage in each.plan.stages for one in stage.exercises}]
        if len(shown) != 1:
            names = " and ".join(each.file.name for each in shown or held)
            raise NotPairedError(
                "several-plans",
                f"{names} are both for this person from the same day, and the task {task!r} does not tell them apart",
                do="put both into one plan, or give each its own day by from in its [plan]",
            )
        held = shown
    return held[0]
