"""One sitting analysed from end to end; composition only.

``result`` is what comes out, ``zero`` ties the tracked angle to the plan's zero and sign, ``marks`` applies a person's
corrections, ``analysis`` walks the corridor.
"""

from imu_rom.session.analysis import analyse, measure_angle, still_stretches
from imu_rom.session.result import (
    Alignment,
    AngleMeasurement,
    AngleTrace,
    ExerciseResult,
    Mark,
    SessionResult,
    StillStretch,
    ZeroPose,
)

__all__ = [
    "Alignment",
    "AngleMeasurement",
    "AngleTrace",
    "ExerciseResult",
    "Mark",
    "SessionResult",
    "StillStretch",
    "ZeroPose",
    "analyse",
    "measure_angle",
    "still_stretches",
]
