"""Rigs with exactly known joint angles, and the rows of the benchmark that they make.

Each rig is a function of a seed that returns a `Rig`: what its sensors delivered, and the joints to judge. They are
written from rigid-body kinematics and dynamics (``rig_sensors.py`` says what a sensor feels) and share nothing with the
package's simulator. What each is like follows data that are used for such comparisons: chains of hinges moved by hand,
robot arms, pendulums, a motor with an encoder, exercises of the leg.

Where nothing else is said, each sample is the mean since the sample before. A sensor that adds up its increments gives
that, and one with a low pass that keeps out what it cannot sample is late by about as much; which of the two a
recording holds, or instants, nothing in it can tell, so two rows hold the others.
"""

from rig_hand import ball, chain, universal
from rig_machines import arm, motor
from rig_pendulums import double_pendulum, pendulum
from rig_people import EXERCISES, leg
from rig_sensing import Joint, Rig

__all__ = [
    "EXERCISES",
    "Joint",
    "Rig",
    "arm",
    "ball",
    "chain",
    "double_pendulum",
    "leg",
    "motor",
    "pendulum",
    "universal",
]
