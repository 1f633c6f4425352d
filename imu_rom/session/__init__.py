"""One sitting analysed from end to end; composition only.

``tracked`` gives the angle, ``zero`` ties it to the plan's zero and sign, ``sets`` finds the sets, ``marks`` applies a
person's corrections, ``trace`` and ``result`` are what comes out, ``analysis`` walks the corridor.
"""

from imu_rom.session.analysis import analyse
from imu_rom.session.measurement import measure_angle, still_stretches
from imu_rom.session.parts import AskedPart
from imu_rom.session.result import (
    Alignment,
    Allotment,
    AngleMeasurement,
    AngleTrace,
    ExerciseResult,
    Mark,
    SessionResult,
    StillStretch,
    ZeroPose,
)
from imu_rom.session.segment_sets import count_repetitions

__all__ = [
    "Alignment",
    "Allotment",
    "AngleMeasurement",
    "AngleTrace",
    "AskedPart",
    "ExerciseResult",
    "Mark",
    "SessionResult",
    "StillStretch",
    "ZeroPose",
    "analyse",
    "count_repetitions",
    "measure_angle",
    "still_stretches",
]
