"""The plan as a model: stages in order and when each of them applied; knows no files.

A field that is None was left out and is "not prescribed", never guessed.
"""

from dataclasses import dataclass, field, replace
from datetime import date, time
from typing import Literal

from imu_rom.dose.criteria import Criteria
from imu_rom.dose.exercise import Exercise
from imu_rom.dose.study import Study
from imu_rom.errors import PlanError
from imu_rom.recording.model import InputFile
from imu_rom.settings import UncertaintySettings

__all__ = ["CalendarEntry", "OwnRange", "OwnUncertainty", "Plan", "Protocol", "Stage"]


@dataclass(frozen=True)
class OwnUncertainty:
    """Parts of the angle's uncertainty that a clinic measured or chose itself; they win over the settings.

    Parameters
    ----------
    parts : dict of str to float
        Standard uncertainty in degrees by the names of `imu_rom.settings.UncertaintySettings`.
    sources : dict of str to str
        Where each of these comes from, in words.
    named_checks : tuple of str
        Files of checks that the plan names, as it names them.
    checks : tuple of InputFile
        Those files as they were read.
    """

    parts: dict[str, float]
    sources: dict[str, str]
    named_checks: tuple[str, ...] = ()
    checks: tuple[InputFile, ...] = ()

    def applied_to(self, settings: UncertaintySettings) -> UncertaintySettings:
        """Put these parts in the place of those of the settings.

        Parameters
        ----------
        settings : UncertaintySettings
            The parts that hold where the plan says nothing.

        Returns
        -------
        UncertaintySettings
            With this plan's own parts.
        """
        return replace(settings, **self.parts)  # type: ignore[arg-type]  # names and values are checked where plans are read


@dataclass(frozen=True)
class OwnRange:
    """How far one side goes by itself, measured on a day: the knee-to-wall lunge, for one.

    Parameters
    ----------
    side : {"left", "right"}
        Side of the body.
    own_range_deg : float
        End of the range in degrees, positive in ``motion``.
    measured_on : date
        When.
    measured_by : str
        The test, in words.
    standard_uncertainty_deg : float or None
        Of that measurement; None: not known.
    joint, motion : str or None
        What was measured; None: the joint and motion that compress the plan's tendon site.
    """

    side: Literal["left", "right"]
    own_range_deg: float
    measured_on: date
    measured_by: str
    standard_uncertainty_deg: float | None = None
    joint: str | None = None
    motion: str | None = None


@dataclass(frozen=True)
class Stage:
    """One stage of a plan.

    Parameters
    ----------
    name : str
        Name of the stage.
    exercises : tuple of Exercise
        What is done in it.
    from_date : date or None
        First day it applies; None where the plan's calendar says so, or nothing does.
    until_date : date or None
        Last day it applies; None: until the next stage begins.
    goal : str or None
        What it is for, in the clinician's words.
    weeks : tuple of int or None
        First and last week of a published programme in which it stands, counted from 1.
    criteria : Criteria
        What must hold before the next stage.
    """

    name: str
    exercises: tuple[Exercise, ...]
    from_date: date | None = None
    until_date: date | None = None
    goal: str | None = None
    weeks: tuple[int, int] | None = None
    criteria: Criteria = field(default_factory=Criteria)


@dataclass(frozen=True)
class CalendarEntry:
    """From which day a stage applied, so that a stage can come back: a step back is an entry of its own.

    Parameters
    ----------
    from_date : date
        First day.
    stage : str
        Name of the stage.
    why : str or None
        The clinician's reason, in words.
    """

    from_date: date
    stage: str
    why: str | None = None


@dataclass(frozen=True)
class Protocol:
    """The published programme that a plan was made from.

    Parameters
    ----------
    name : str
        File name without ending among `imu_rom.dose.protocols`.
    citation : str
        Where it was published, or "common practice, no source".
    from_memory : str or None
        What of it was not seen in a source and must be verified; None: nothing.
    """

    name: str
    citation: str
    from_memory: str | None = None


@dataclass(frozen=True)
class Plan:
    """A plan for one person and one tendon.

    Parameters
    ----------
    title : str
        Heading for people.
    tendon_site : str
        Name of a site in ``dose.sites``.
    stages : tuple of Stage
        In order.
    current_stage : str
        Name of the stage that applies where no day is given.
    patient : str or None
        Pseudonym.
    bids_subject : str or None
        Subject label of the person's recordings, without ``sub-``; None: the pseudonym without punctuation.
    own_uncertainty : OwnUncertainty or None
        Parts of the uncertainty that the clinic measured or chose itself; None: it did not.
    from_date : date or None
        First day that this version of the plan applies; an earlier version holds before it. None: always.
    calendar : tuple of CalendarEntry
        When which stage applied, in order of days; empty where the stages' own dates say it.
    own_ranges : tuple of OwnRange
        How far each side goes by itself, in order of days.
    irritability : {"low", "moderate", "high"} or None
        How easily the tendon flares.
    settles_within_h : float or None
        Hours within which pain should have settled after the exercises.
    sessions_recorded_per_week : float or None
        How many sessions a week are recorded with sensors; the rest is ticked in the diary. None: all.
    day_starts_at : time or None
        A session before this time belongs to the evening before; None: midnight.
    time_zone : str or None
        IANA name of the zone in which the person lives; None: each recording's own offset is local time.
    protocol : Protocol or None
        The published programme that it was made from.
    study : Study or None
        What a study declares beforehand; None: the plan is of no study.
    """

    title: str
    tendon_site: str
    stages: tuple[Stage, ...]
    current_stage: str
    patient: str | None = None
    bids_subject: str | None = None
    own_uncertainty: OwnUncertainty | None = None
    from_date: date | None = None
    calendar: tuple[CalendarEntry, ...] = ()
    own_ranges: tuple[OwnRange, ...] = ()
    irritability: Literal["low", "moderate", "high"] | None = None
    settles_within_h: float | None = None
    sessions_recorded_per_week: float | None = None
    day_starts_at: time | None = None
    time_zone: str | None = None
    protocol: Protocol | None = None
    study: Study | None = None

    @property
    def stage(self) -> Stage:
        """The stage that applies."""
        return next(each for each in self.stages if each.name == self.current_stage)

    @property
    def subject(self) -> str | None:
        """BIDS subject label of the person's recordings, without ``sub-``; None where the plan names nobody."""
        if self.bids_subject is not None or self.patient is None:
            return self.bids_subject
        return "".join(letter for letter in self.patient if letter.isascii() and letter.isalnum())

    def stage_on(self, day: date) -> Stage | None:
        """Tell which stage applied on a day.

        Parameters
        ----------
        day : date
            A day of the person's calendar.

        Returns
        -------
        Stage or None
            None before the first dated stage begins, and after one that ended without a next. A plan without any dates
            has its current stage always.
        """
        if self.calendar:
            begun = [each for each in self.calendar if each.from_date <= day]
            return next((each for each in self.stages if begun and each.name == begun[-1].stage), None)
        dated = [each for each in self.stages if each.from_date is not None]
        if not dated:
            return self.stage
        begun_stages = [each for each in dated if each.from_date is not None and each.from_date <= day]
        if not begun_stages:
            return None
        latest = begun_stages[-1]
        return None if latest.until_date is not None and latest.until_date < day else latest

    def is_for(self, subject: str | None) -> bool:
        """Tell whether a recording's subject can be the person of this plan.

        Parameters
        ----------
        subject : str or None
            BIDS subject label, without ``sub-``.

        Returns
        -------
        bool
            False only where both sides name somebody and the names differ.
        """
        return subject is None or self.subject is None or subject == self.subject

    def exercise(self, name: str | None = None) -> Exercise:
        """Return an exercise of the stage that applies.

        Parameters
        ----------
        name : str, optional
            Its name; may be left out where the stage has one exercise.

        Returns
        -------
        Exercise
            That exercise.

        Raises
        ------
        PlanError
            The stage has no such exercise, or has several and none is named.
        """
        exercises = {each.name: each for each in self.stage.exercises}
        names = ", ".join(exercises)
        if name is None:
            if len(exercises) == 1:
                return self.stage.exercises[0]
            raise PlanError(
                f"stage {self.current_stage!r} has {len(exercises)} exercises: {names}", do="name the one that was done"
            )
        if name not in exercises:
            others = [each.name for each in self.stages if name in {one.name for one in each.exercises}]
            raise PlanError(
                f"exercise must be one of {names} (stage {self.current_stage!r}), got {name!r}"
                + (f", which is in stage {others[0]!r}" if others else ""),
                do=f"name one of these, or say by --stage {others[0]!r} that it held"
                if others
                else "name one of these, or take the plan that the session was done by",
            )
        return exercises[name]
