"""What the invented person is asked to do: the routine, from a plan's exercise or by name."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import Literal

from imu_rom.dose.exercise import ABSENT, Exercise
from imu_rom.errors import SettingError
from imu_rom.simulation.person import Person

__all__ = ["SCENARIOS", "SIMULATED_MOTIONS", "Routine", "Scenario", "routine_from_exercise"]

SIMULATED_MOTIONS = MappingProxyType({"ankle": "dorsiflexion", "knee": "flexion"})
"""Motion that counts positive, of each joint that can be simulated."""

_WHERE = "simulated routine"


def _check_number(name: str, value: object) -> None:
    if not isinstance(value, int | float):
        return
    if name.endswith("_deg") and not math.isfinite(value):
        raise SettingError(f"{name} must be a number, got {value}", where=_WHERE)
    if name.endswith(("_s", "_sd_deg", "_variation")) and not 0 <= value < math.inf:
        raise SettingError(f"{name} must be a number from 0, got {value}", where=_WHERE)
    if name.endswith(("_share", "_probability")) and not 0 <= value <= 1:
        raise SettingError(f"{name} must lie in 0 to 1, got {value}", where=_WHERE)


@dataclass(frozen=True)
class Routine:
    """One session's exercise as the invented person does it. Angles in degrees, positive in the plan's motion.

    Parameters
    ----------
    joint : {"ankle", "knee"}
        Hinge that moves: ankle dorsiflexion or knee flexion is positive.
    side : {"left", "right"}
        Side of the body.
    proximal, distal : str
        Tracked points of the two sensors.
    task : str
        BIDS task label.
    sets, repetitions : int
        Sets, and repetitions in each.
    start_deg, start_sd_deg : float
        Angle from which repetitions start: mean and spread from one to the next.
    end_range_deg, end_range_sd_deg : float
        End range: mean and spread from one repetition to the next.
    eccentric_s, hold_s, concentric_s, top_pause_s : float
        Mean time of each phase.
    time_variation : float
        Relative spread of each phase's time from one repetition to the next.
    rest_s : float
        Mean time between sets.
    walks_in_rests : bool
        True: the person steps down, walks and turns in the rests; False: stands and shifts weight.
    on_floor : bool
        True: repetitions end with the foot flat on the floor: rise, lower; False: from a step (ankle) or a squat.
    sag_deg : float
        Mean change of the angle over a hold.
    ends_early_share : float
        Share of the holds that are left after 40-70 % of their time.
    taps : bool
        True: three taps on each sensor before and after a hold.
    foot_stays_flat : bool
        True: the foot keeps still and flat and the shank leans over it, as in a lunge with the knee to the wall.
    sensors : {"both", "distal only", "proximal only"}
        Which sensors the recording has.
    heel_raised_deg : float
        On the floor: how far the heel stays raised where a repetition stops.
    partial_share : float
        Share of repetitions that go only 30-60 % of the way, done on top of those prescribed.
    pause_probability : float
        Probability that a set is interrupted by a pause of 5-20 s, as when it hurts.
    calibration_sign : {-1, 1}
        Direction of the calibration movement in the plan's motion.
    calibration_deg : tuple of float
        Smallest and largest depth of the calibration movements.
    sits_before : bool or None
        A quiet while on a chair before standing up; None: by chance.
    leans_before_deg : float or None
        Stands still first with the shank leaning by that much, before the neutral pose; None: does not.
    pauses_standing : bool
        True: in a pause within a set the person comes down to stand; False: waits at the start position.
    poses_again : {"no", "end", "rests"}
        Whether the neutral pose is taken again: not, at the end, or in every rest and at the end.
    closing_off_deg : float
        How far off the first neutral pose the person stands in those, on average.
    set_repetitions : tuple of int
        Repetitions of each set where they differ; empty: ``repetitions`` in each.
    proximal_mounting, distal_mounting : str or None
        How the sensor sits, in the words of a plan; None: in any direction.
    shared_jolts : {"none", "knocks", "toe taps"}
        What lets clocks be compared. Knocks: both sensors in one hand, knocked three times on the table, before taping
        and after taking off. Toe taps: three, seated, after taping and before taking off.
    """

    joint: str = "ankle"
    side: Literal["left", "right"] = "left"
    proximal: str = "shank"
    distal: str = "foot"
    task: str = "heeldrop"
    sets: int = 3
    repetitions: int = 15
    start_deg: float = -25.0
    start_sd_deg: float = 1.5
    end_range_deg: float = 10.0
    end_range_sd_deg: float = 1.5
    eccentric_s: float = 2.5
    hold_s: float = 2.0
    concentric_s: float = 1.5
    top_pause_s: float = 0.6
    time_variation: float = 0.12
    rest_s: float = 60.0
    walks_in_rests: bool = True
    on_floor: bool = False
    sag_deg: float = 0.0
    ends_early_share: float = 0.0
    taps: bool = False
    foot_stays_flat: bool = False
    sensors: Literal["both", "distal only", "proximal only"] = "both"
    heel_raised_deg: float = 0.0
    partial_share: float = 0.0
    pause_probability: float = 0.1
    calibration_sign: int = -1
    calibration_deg: tuple[float, float] = (20.0, 30.0)
    sits_before: bool | None = None
    leans_before_deg: float | None = None
    pauses_standing: bool = False
    poses_again: str = "no"
    closing_off_deg: float = 0.0
    set_repetitions: tuple[int, ...] = ()
    proximal_mounting: str | None = None
    distal_mounting: str | None = None
    shared_jolts: str = "none"

    def __post_init__(self) -> None:
        for name, value in vars(self).items():
            _check_number(name, value)
        lengths = self.set_repetitions or (self.repetitions,) * self.sets
        for wrong, sentence in (
            (
                self.joint not in SIMULATED_MOTIONS,
                f"joint must be {' or '.join(SIMULATED_MOTIONS)}, got {self.joint!r}",
            ),
            (self.side not in {"left", "right"}, f"side must be left or right, got {self.side!r}"),
            (
                self.sensors not in {"both", "distal only", "proximal only"},
                f"sensors must be both, distal only or proximal only, got {self.sensors!r}",
            ),
            (
                self.poses_again not in {"no", "end", "rests"},
                f"poses_again must be no, end or rests, got {self.poses_again!r}",
            ),
            (
                self.shared_jolts not in {"none", "knocks", "toe taps"},
                f"shared_jolts must be none, knocks or toe taps, got {self.shared_jolts!r}",
            ),
            (abs(self.calibration_sign) != 1, f"calibration_sign must be -1 or 1, got {self.calibration_sign}"),
            (len(self.calibration_deg) != 2, f"calibration_deg must be two numbers, got {self.calibration_deg}"),
            (
                min(self.sets, self.repetitions) < 1,
                f"sets and repetitions must be at least 1, got {self.sets} and {self.repetitions}",
            ),
            (
                len(lengths) != self.sets or min(lengths, default=0) < 1,
                f"set_repetitions must be {self.sets} numbers from 1, got {self.set_repetitions}",
            ),
            (
                self.end_range_deg <= self.start_deg,
                f"the end range must lie past the start, got {self.start_deg} to {self.end_range_deg} deg",
            ),
        ):
            if wrong:
                raise SettingError(sentence, where=_WHERE)


def routine_from_exercise(exercise: Exercise, *, depth_offset_deg: float = 0.0, **changes: object) -> Routine:
    """Turn a plan's exercise into a routine that follows it.

    Parameters
    ----------
    exercise : Exercise
        What is prescribed. What it leaves out takes the routine's default; the end range aims at the middle of the
        window, 4 degrees past its lower edge if it has no upper one.
    depth_offset_deg : float
        Added to the end range: negative for a person who stops short.
    **changes : object
        Fields of ``Routine`` to set otherwise.

    Returns
    -------
    Routine
        The routine.

    Raises
    ------
    SettingError
        The joint or motion can't be simulated, or the changes don't fit together.
    """
    simulated = SIMULATED_MOTIONS.get(exercise.joint)
    if simulated is not None and exercise.motion != simulated:
        raise SettingError(
            f"motion of the {exercise.joint} must be {simulated}, got {exercise.motion!r}",
            where=_WHERE,
            do="other motions can't be simulated yet",
        )
    knee = exercise.joint == "knee"
    routine = Routine(
        joint=exercise.joint,
        side=exercise.side,
        proximal="proximal" if exercise.proximal == ABSENT else exercise.proximal,
        distal="distal" if exercise.distal == ABSENT else exercise.distal,
        task=exercise.name,
        proximal_mounting=exercise.mounting.get(exercise.proximal),
        distal_mounting=exercise.mounting.get(exercise.distal),
        sets=exercise.sets,
        repetitions=exercise.repetitions,
        on_floor=exercise.surface == "floor",
        start_deg=8.0 if knee else -25.0,
        end_range_deg=60.0 if knee else 10.0,
    )
    routine = replace(
        routine,
        calibration_sign=1 if knee or exercise.calibration_movement == exercise.motion else -1,
        calibration_deg=(35.0, 55.0) if knee else (20.0, 30.0),
    )
    routine = replace(routine, sensors=exercise.sensors)
    if exercise.still_segment == "foot flat on the floor":
        routine = replace(routine, foot_stays_flat=True, on_floor=True, start_deg=2.0, calibration_deg=(15.0, 25.0))
    if exercise.ends_on_floor:
        routine = replace(routine, end_range_deg=0.0, end_range_sd_deg=0.8)
    if exercise.end_range_deg is not None:
        low, high = exercise.end_range_deg
        routine = replace(routine, end_range_deg=(low + high) / 2 if math.isfinite(high) else low + 4)
    said = {
        "start_deg": exercise.start_deg,
        "rest_s": exercise.rest_s,
        "eccentric_s": exercise.tempo.eccentric_s,
        "hold_s": exercise.tempo.end_range_hold_s,
        "concentric_s": exercise.tempo.concentric_s,
        "top_pause_s": exercise.tempo.top_pause_s,
    }
    values = {name: value for name, value in said.items() if value is not None} | dict(changes)
    routine = replace(routine, **values)  # type: ignore[arg-type]  # names and values are checked by Routine itself
    return replace(routine, end_range_deg=routine.end_range_deg + depth_offset_deg)


@dataclass(frozen=True)
class Scenario:
    """A named way of doing a routine: changes to the routine and to the person.

    Parameters
    ----------
    meaning : str
        One line for people.
    routine, person : mapping
        Fields to set otherwise.
    """

    meaning: str
    routine: Mapping[str, object] = field(default_factory=dict)
    person: Mapping[str, object] = field(default_factory=dict)

    def apply(self, routine: Routine, person: Person) -> tuple[Routine, Person]:
        """Change a routine and a person accordingly.

        Parameters
        ----------
        routine : Routine
            Before.
        person : Person
            Before.

        Returns
        -------
        tuple of Routine and Person
            After.
        """
        return (
            replace(routine, **self.routine),  # type: ignore[arg-type]
            replace(person, **self.person),  # type: ignore[arg-type]
        )


# the benchmark's rows, and what its sample recordings need
SCENARIOS: Mapping[str, Scenario] = MappingProxyType(
    {
        "usual": Scenario("as prescribed, walking in the rests"),
        "partial": Scenario("one repetition in eight goes only part of the way", {"partial_share": 0.12}),
        "fast": Scenario(
            "about 1.5 s a repetition",
            {"eccentric_s": 0.6, "hold_s": 0.15, "concentric_s": 0.55, "top_pause_s": 0.2},
        ),
        "long-hold": Scenario(
            "18 s at the end range", {"hold_s": 18.0, "repetitions": 5, "eccentric_s": 3.0, "concentric_s": 2.0}
        ),
        "hold": Scenario(
            "five sets of one hold of 45 s, one in five left early, sagging by 2 degrees",
            {
                "hold_s": 45.0,
                "sets": 5,
                "repetitions": 1,
                "time_variation": 0.03,
                "ends_early_share": 0.2,
                "sag_deg": 2.0,
            },
        ),
        "stretch": Scenario(
            "three stretches of 30 s at end range",
            {"hold_s": 30.0, "repetitions": 3, "sets": 1, "time_variation": 0.05},
        ),
        "floor": Scenario(
            "rise and lower to the floor", {"on_floor": True, "end_range_deg": 0.0, "end_range_sd_deg": 0.8}
        ),
        "floor-bent-knee": Scenario(
            "rise and lower to the floor with the knee bent, the shank leaning forward",
            {"on_floor": True, "end_range_deg": 14.0, "end_range_sd_deg": 1.2},
        ),
        "heel-raised": Scenario(
            "lower towards the floor, but the heel stays 8 degrees up",
            {"on_floor": True, "end_range_deg": 0.0, "end_range_sd_deg": 0.8, "heel_raised_deg": 8.0},
        ),
        "short-rests": Scenario("10 s between sets, standing", {"rest_s": 10.0, "walks_in_rests": False}),
        "zero-off": Scenario(
            "neutral pose off the true zero by N(3, 4) degrees",
            person={"zero_shift_mean_deg": 3.0, "zero_shift_sd_deg": 4.0},
        ),
        "interrupted": Scenario("every set is interrupted by a pause", {"pause_probability": 1.0}),
        "closing-pose": Scenario("the neutral pose is taken again at the end", {"poses_again": "end"}),
        "poses-between": Scenario(
            "the neutral pose is taken again in every rest and at the end", {"poses_again": "rests"}
        ),
        "other-stance": Scenario(
            "the neutral pose is taken again at the end, but 8 degrees off, with the knee bent",
            {"poses_again": "end", "closing_off_deg": 8.0},
        ),
        "locked-soft-tissue": Scenario(
            "soft tissue follows the angle by 5-10 % of the excursion", person={"locked_share": (0.05, 0.10)}
        ),
    }
)
