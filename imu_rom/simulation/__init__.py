"""Sessions with exactly known angles: what an invented person did, and what two sensors would have measured.

``routine`` says what is to be done, ``course`` lets an invented person do it as people do, ``body`` turns that into
segments and sensors, ``session`` puts it together. Nothing here knows how the analysis works.
"""

from imu_rom.simulation.error_model import AngleErrors, ModelledAngle, angle_error_model
from imu_rom.simulation.faults import Faults
from imu_rom.simulation.own_clock import OwnClock, SensorLog
from imu_rom.simulation.performer import Interval
from imu_rom.simulation.person import Person, SensorErrors
from imu_rom.simulation.routine import SCENARIOS, Routine, Scenario, routine_from_exercise
from imu_rom.simulation.sequence import simulate_wearings
from imu_rom.simulation.session import SimulatedSession, simulate_session
from imu_rom.simulation.slips import Slip
from imu_rom.simulation.truth import TrueRepetition, TrueSet, Truth

__all__ = [
    "SCENARIOS",
    "AngleErrors",
    "Faults",
    "Interval",
    "ModelledAngle",
    "OwnClock",
    "Person",
    "Routine",
    "Scenario",
    "SensorErrors",
    "SensorLog",
    "SimulatedSession",
    "Slip",
    "TrueRepetition",
    "TrueSet",
    "Truth",
    "angle_error_model",
    "routine_from_exercise",
    "simulate_session",
    "simulate_wearings",
]
