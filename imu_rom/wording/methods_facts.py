"""What a methods text is made from, as the rooms beside this one keep it: the names are those of a result document."""

from collections.abc import Mapping, Sequence
from typing import Protocol

from imu_rom.dose.comparison import SessionComparison
from imu_rom.dose.exercise import Exercise
from imu_rom.motion.uncertainty import Budget
from imu_rom.recording.model import Gap, InputFile
from imu_rom.session.result import Alignment, Allotment, LaterPose, Mark, SensorSlip, ZeroPose

__all__ = ["ClockFacts", "ExerciseFacts", "RecordingFacts", "ResultFacts", "SensorFacts"]


class SensorFacts(Protocol):
    """One sensor, without its samples."""

    @property
    def tracked_point(self) -> str:
        """Body part it was worn on."""
        ...

    @property
    def placement(self) -> str | None:
        """Where on it, as declared."""
        ...

    @property
    def mounting(self) -> str | None:
        """Which way its axes point, as declared."""
        ...


class ClockFacts(Protocol):
    """How two clocks were brought together."""

    @property
    def reference(self) -> str:
        """Sensor whose clock was kept."""
        ...

    @property
    def other(self) -> str:
        """Sensor whose clock was moved."""
        ...

    @property
    def offset_ms(self) -> float:
        """How much later the other sensor was started."""
        ...

    @property
    def skew_ppm(self) -> float:
        """How much longer a second of the other clock is."""
        ...

    @property
    def evidence(self) -> Mapping[str, int]:
        """What it was told from, and how much of each."""
        ...

    @property
    def contradicting(self) -> int:
        """Stretches that said otherwise and were left out."""
        ...

    @property
    def residual_ms(self) -> float:
        """What is left between evidence and line."""
        ...

    @property
    def largest_standard_uncertainty_ms(self) -> float:
        """Of the offset, where it is largest."""
        ...


class RecordingFacts(Protocol):
    """What was measured, without the samples."""

    @property
    def rate_hz(self) -> float:
        """Sampling rate."""
        ...

    @property
    def samples(self) -> int:
        """Samples of each sensor."""
        ...

    @property
    def duration_s(self) -> float:
        """Time covered."""
        ...

    @property
    def sensors(self) -> Sequence[SensorFacts]:
        """In the file's order."""
        ...

    @property
    def gaps(self) -> Sequence[Gap]:
        """Stretches without data that were not filled."""
        ...

    @property
    def filled_samples(self) -> Mapping[str, int]:
        """Samples filled, by tracked point."""
        ...

    @property
    def reference_channels(self) -> Sequence[str]:
        """Angles that came with the recording."""
        ...

    @property
    def clocks(self) -> ClockFacts | None:
        """None where all sensors shared one clock."""
        ...


class ExerciseFacts(Protocol):
    """One exercise of a session, without its samples."""

    @property
    def exercise(self) -> Exercise:
        """What was prescribed."""
        ...

    @property
    def zero(self) -> ZeroPose:
        """Neutral pose."""
        ...

    @property
    def alignment(self) -> Alignment:
        """How sensor axes were tied to the joint."""
        ...

    @property
    def comparison(self) -> SessionComparison:
        """Sets and verdicts."""
        ...

    @property
    def u_shared_deg(self) -> float:
        """Standard uncertainty shared by the session."""
        ...

    @property
    def u_set_deg(self) -> float:
        """What a set shares besides."""
        ...

    @property
    def budget(self) -> Budget:
        """Terms of the uncertainty."""
        ...

    @property
    def worn_start_s(self) -> float:
        """Where the evaluated stretch starts."""
        ...

    @property
    def worn_stop_s(self) -> float:
        """Where it stops."""
        ...

    @property
    def later_poses(self) -> Sequence[LaterPose]:
        """Later stands in the same posture."""
        ...

    @property
    def slips(self) -> Sequence[SensorSlip]:
        """Slips of a sensor."""
        ...

    @property
    def allotment(self) -> Allotment | None:
        """How the sets are known to be this exercise's."""
        ...


class ResultFacts(Protocol):
    """What one session answers."""

    @property
    def program_version(self) -> str:
        """Version of the program that wrote it."""
        ...

    @property
    def stage(self) -> str:
        """Stage of the plan."""
        ...

    @property
    def plan_title(self) -> str:
        """Title of the plan."""
        ...

    @property
    def tendon_site(self) -> str:
        """Where the tendon is compressed."""
        ...

    @property
    def recording(self) -> RecordingFacts:
        """What was measured."""
        ...

    @property
    def exercises(self) -> Sequence[ExerciseFacts]:
        """One entry an exercise."""
        ...

    @property
    def marks(self) -> Sequence[Mark]:
        """Corrections by a person."""
        ...

    @property
    def inputs(self) -> Sequence[InputFile]:
        """What was read."""
        ...

    @property
    def versions(self) -> Mapping[str, str]:
        """Packages that the figures depend on."""
        ...

    @property
    def settings(self) -> Mapping[str, Mapping[str, float | str]]:
        """All settings used, by group."""
        ...

    @property
    def own_uncertainty(self) -> Mapping[str, str]:
        """Settings that somebody measured, and where from."""
        ...
