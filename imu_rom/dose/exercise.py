"""One exercise as it was prescribed, in the words of the prescription; knows no files.

A field that is None was left out and is "not prescribed", never guessed.
"""

from dataclasses import dataclass, field
from typing import Literal

__all__ = ["ABSENT", "Basis", "CompressionThreshold", "Decide", "Exercise", "Legs", "Load", "SecondPose", "Tempo"]

ABSENT = "none"
"""Name of the sensor that is not worn, where an exercise is measured by one."""

Basis = Literal["neutral by convention", "first pain", "share of own range", "clinician"]
Legs = Literal["single leg", "both legs", "other leg", "unweighted"]
UNWEIGHTED = ("other leg", "unweighted")


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

    @property
    def unweighted_phases(self) -> frozenset[str]:
        """Phases in which this leg is declared to carry nothing."""
        declared = {"eccentric": self.eccentric, "concentric": self.concentric}
        return frozenset(phase for phase, legs in declared.items() if legs in UNWEIGHTED)


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
class SecondPose:
    """A pose besides the neutral one in which the distal segment's inclination is known.

    Parameters
    ----------
    motion : str
        Motion of the joint that leads from the neutral pose into it, the proximal segment upright in both.
    deg : float
        By how much.
    uncertainty_deg : float
        How exactly people take it, as a standard deviation. Common practice, no source.
    """

    motion: str
    deg: float
    uncertainty_deg: float = 5.0


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
    second_pose : SecondPose or None
        A pose, such as sitting with the thigh level, that shows with the neutral one how the distal sensor sits on a
        joint of more than one axis; who analyses a recording says when it was held.
    tempo : Tempo
        Prescribed phase times.
    rest_s : float or None
        Prescribed rest between sets.
    start_deg : float or None
        Angle from which each repetition starts.
    end_range_deg : tuple of float or None
        Window (low, high) in which each repetition's end range should fall; high may be infinite.
    share_of_own_range : tuple of float or None
        Window (low, high) as shares of the person's own range, where it was prescribed so; high may be infinite. The
        angles in ``end_range_deg`` are then those of the own range that was last measured
        (`imu_rom.dose.own_range.with_own_range`).
    end_range_reference : {"neutral", "own range"}
        What the window was prescribed by: degrees from neutral, or shares of the own range. ``end_range_deg`` counts
        from neutral either way.
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
    knee : {"straight", "bent"} or None
        How the knee is kept in an exercise of another joint, as declared.
    footwear : str or None
        As declared.
    heel_lift_mm : float or None
        Height of a heel lift.
    mounting : mapping of str to str
        Declared sensor axes by segment (``{"shank": "z outward, x up"}``).
    placement : mapping of str to str
        Where each sensor is worn, by tracked point (``{"foot": "midfoot"}``): how much soft tissue lies between.
    repetition_maximum : int or None
        Weight prescribed as the one that can be moved just so many times.
    per_day, days_per_week : float or None
        Prescribed frequency.
    in_words : str or None
        What is done, for people.
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
    second_pose: SecondPose | None = None
    tempo: Tempo = field(default_factory=Tempo)
    rest_s: float | None = None
    start_deg: float | None = None
    end_range_deg: tuple[float, float] | None = None
    share_of_own_range: tuple[float, float] | None = None
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
    knee: Literal["straight", "bent"] | None = None
    footwear: str | None = None
    heel_lift_mm: float | None = None
    mounting: dict[str, str] = field(default_factory=dict)
    placement: dict[str, str] = field(default_factory=dict)
    repetition_maximum: int | None = None
    per_day: float | None = None
    days_per_week: float | None = None
    in_words: str | None = None
    decide: Decide = field(default_factory=Decide)

    @property
    def tracked_points(self) -> tuple[str, ...]:
        """Tracked points of the sensors that are worn, the proximal one first."""
        return tuple(each for each in (self.proximal, self.distal) if each != ABSENT)

    @property
    def worn(self) -> tuple[str, str, str, str | None, float]:
        """Leg, sensors, shoe and heel lift: where one of them changes, the neutral pose must be taken anew."""
        return self.side, self.proximal, self.distal, self.footwear, self.heel_lift_mm or 0.0

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
