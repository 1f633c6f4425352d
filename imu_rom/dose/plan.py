"""The plan as a model: what was prescribed, in the words of the prescription; knows no files.

A field that is None was left out and is "not prescribed", never guessed.
"""

from dataclasses import dataclass, field, replace
from datetime import date
from typing import Literal

from imu_rom.errors import PlanError
from imu_rom.recording.model import InputFile
from imu_rom.settings import UncertaintySettings

__all__ = [
    "ABSENT",
    "Basis",
    "CompressionThreshold",
    "Decide",
    "Exercise",
    "Legs",
    "Load",
    "OwnUncertainty",
    "Plan",
    "Stage",
    "Tempo",
]

ABSENT = "none"
"""Name of the sensor that is not worn, where an exercise is measured by one."""

Basis = Literal["neutral by convention", "first pain", "share of own range", "clinician"]
Legs = Literal["single leg", "both legs", "other leg", "unweighted"]


@dataclass(frozen=True)
class Tempo:
    """Prescribed time of each phase of a repetition, in seconds.

    Parameters
    ----------
    eccentric_s, end_range_hold_s, concentric_s, top_pause_s : float or None
        Phase times; None is not prescribed.
    """

    eccentric_s: float | None = None
    end_range_hold_s: float | None = None
    concentric_s: float | None = None
    top_pause_s: float | None = None


@dataclass(frozen=True)
class Load:
    """Who carries the load in each phase, as declared, not measured.

    Parameters
    ----------
    eccentric, concentric : {"single leg", "both legs", "other leg", "unweighted"} or None
        Declared support of each phase; the end-range hold belongs to the eccentric phase's support.
    share_of_body_weight : float or None
        Share of body weight carried.
    external_kg : float or None
        Added weight.
    """

    eccentric: Legs | None = None
    concentric: Legs | None = None
    share_of_body_weight: float | None = None
    external_kg: float | None = None


@dataclass(frozen=True)
class CompressionThreshold:
    """The angle past which the tendon is taken to be compressed.

    Parameters
    ----------
    deg : float
        Joint angle in degrees in the exercise's motion.
    basis : str
        How it was chosen.
    """

    deg: float
    basis: Basis


@dataclass(frozen=True)
class Decide:
    """How sure is sure: the clinician's choice.

    Parameters
    ----------
    reached : float
        Probability from which a repetition counts as having reached its end range.
    limit : float
        Probability from which the limit counts as kept.
    share_of_repetitions : float
        Share of the prescribed repetitions that must reach the end range.
    """

    reached: float = 0.80
    limit: float = 0.95
    share_of_repetitions: float = 0.80


@dataclass(frozen=True)
class Exercise:
    """One exercise of a stage.

    Parameters
    ----------
    name : str
        Letters and digits: the BIDS task label of its recordings.
    joint, motion : str
        Joint and the motion that is its positive direction.
    side : {"left", "right"}
        Side of the body.
    proximal, distal : str
        Tracked points of the two sensors in the recording; ``ABSENT`` for one that is not worn.
    sets, repetitions : int
        Prescribed sets, and repetitions in each.
    sensors : {"both", "distal only", "proximal only"}
        Which of them are worn.
    still_segment : str or None
        With one sensor, which segment keeps still beside the joint (`imu_rom.dose.one_sensor.STILL_SEGMENTS`); None:
        nothing is known to, and one sensor shows repetitions and tempo only.
    kind : {"repetitions", "hold", "stretch"}
        What is counted.
    calibration_movement : str or None
        Motion done straight after the neutral pose; settles the sign when the mounting is unknown.
    tempo : Tempo
        Prescribed phase times.
    rest_s : float or None
        Prescribed rest between sets.
    start_deg : float or None
        Angle from which each repetition starts.
    end_range_deg : tuple of float or None
        Window (low, high) in which each repetition's end range should fall; high may be infinite.
    end_range_reference : {"neutral", "own range"}
        What the window's angles are measured from.
    end_range : {"angle", "floor"}
        What ends a repetition: an angle (``end_range_deg``), or the foot coming back to the floor. The floor is a
        surface, not an angle: the foot is flat there, however far the shank leans.
    floor_tolerance_deg : float
        How far the foot may stay tilted and still count as back on the floor.
    zero : str or None
        What the neutral pose stands for: the joint's own zero (`neutral_words`), or ``"own standing"``, where angles
        count from how the person stood; None is the joint's own zero.
    neutral_deg, neutral_uncertainty_deg : float or None
        Angle of the neutral pose as a clinician measured it, and its standard uncertainty, which takes the place of
        the neutral pose's.
    limit_deg : float or None
        Angle not to be passed.
    compression_threshold : CompressionThreshold or None
        Compressive angle.
    past_threshold_s_per_set : tuple of float or None
        Prescribed time past the compressive angle in each set (low, high), in seconds.
    load : Load
        Declared load of each phase.
    surface : {"floor", "step", "wedge"} or None
        What the person stands on.
    step_height_mm : float or None
        Height of the step or of the wedge's high edge, as declared.
    footwear : str or None
        As declared.
    heel_lift_mm : float or None
        Height of a heel lift.
    mounting : mapping of str to str
        Declared sensor axes by segment (``{"shank": "z outward, x up"}``).
    placement : mapping of str to str
        Where each sensor is worn, by tracked point (``{"foot": "midfoot"}``): how much soft tissue lies between.
    per_day, days_per_week : float or None
        Prescribed frequency.
    decide : Decide
        Decision probabilities.
    """

    name: str
    joint: str
    motion: str
    side: Literal["left", "right"]
    proximal: str
    distal: str
    sets: int
    repetitions: int
    sensors: Literal["both", "distal only", "proximal only"] = "both"
    still_segment: str | None = None
    kind: Literal["repetitions", "hold", "stretch"] = "repetitions"
    calibration_movement: str | None = None
    tempo: Tempo = field(default_factory=Tempo)
    rest_s: float | None = None
    start_deg: float | None = None
    end_range_deg: tuple[float, float] | None = None
    end_range_reference: Literal["neutral", "own range"] = "neutral"
    end_range: Literal["angle", "floor"] = "angle"
    floor_tolerance_deg: float = 3.0
    zero: str | None = None
    neutral_deg: float | None = None
    neutral_uncertainty_deg: float | None = None
    limit_deg: float | None = None
    compression_threshold: CompressionThreshold | None = None
    past_threshold_s_per_set: tuple[float, float] | None = None
    load: Load = field(default_factory=Load)
    surface: Literal["floor", "step", "wedge"] | None = None
    step_height_mm: float | None = None
    footwear: str | None = None
    heel_lift_mm: float | None = None
    mounting: dict[str, str] = field(default_factory=dict)
    placement: dict[str, str] = field(default_factory=dict)
    per_day: float | None = None
    days_per_week: float | None = None
    decide: Decide = field(default_factory=Decide)

    @property
    def tracked_points(self) -> tuple[str, ...]:
        """Tracked points of the sensors that are worn, the proximal one first."""
        return tuple(each for each in (self.proximal, self.distal) if each != ABSENT)

    @property
    def angle_is_known(self) -> bool:
        """False where one sensor is worn and the other segment isn't known to keep still."""
        return self.sensors == "both" or self.still_segment is not None

    @property
    def is_held(self) -> bool:
        """True where each repetition is time in a position: a hold or a stretch."""
        return self.kind != "repetitions"

    @property
    def ends_on_floor(self) -> bool:
        """True where a repetition ends when the foot is back on the floor, whatever the angle."""
        return self.end_range == "floor"

    @property
    def asks_end_range(self) -> bool:
        """True where the plan says how far a repetition should go: to an angle, or to the floor."""
        return self.ends_on_floor or self.end_range_deg is not None


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
class Stage:
    """One stage of a plan.

    Parameters
    ----------
    name : str
        Name of the stage.
    exercises : tuple of Exercise
        What is done in it.
    from_date : date or None
        First day it applies.
    """

    name: str
    exercises: tuple[Exercise, ...]
    from_date: date | None = None


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
        Name of the stage that applies.
    patient : str or None
        Pseudonym.
    bids_subject : str or None
        Subject label of the person's recordings, without ``sub-``; None: the pseudonym without punctuation.
    own_uncertainty : OwnUncertainty or None
        Parts of the uncertainty that the clinic measured or chose itself; None: it did not.
    """

    title: str
    tendon_site: str
    stages: tuple[Stage, ...]
    current_stage: str
    patient: str | None = None
    bids_subject: str | None = None
    own_uncertainty: OwnUncertainty | None = None

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
            raise PlanError(
                f"exercise must be one of {names} (stage {self.current_stage!r}), got {name!r}",
                do="name one of these, or take the plan that the session was done by",
            )
        return exercises[name]
