"""How limbs look in the drawing of a movement: simple shapes of our own around the joint, for the right side.

Lengths are in the picture's units, about a third of a millimetre of paper. Shapes that move lie along x, the direction
that the segment has; y is to its left. Shapes that keep still lie in the picture, y upwards.
"""

from dataclasses import dataclass, replace
from typing import Literal

from imu_rom.dose.exercise import Exercise
from imu_rom.dose.one_sensor import STILL_SEGMENTS
from imu_rom.motion.joint_model import Motion

__all__ = ["Drawing", "Shape", "View", "drawing_of", "view_of"]

Point = tuple[float, float]
View = Literal["side", "front", "above", "hand"]


@dataclass(frozen=True)
class Shape:
    """A line with a width, or an area with a rim of it.

    Parameters
    ----------
    points : tuple of tuple of float
        Its corners.
    width : float
        Width of the line; its ends and corners are round.
    closed : bool
        True for an area.
    """

    points: tuple[Point, ...]
    width: float
    closed: bool = False


@dataclass(frozen=True)
class Drawing:
    """What is drawn around the joint, which is at the origin.

    Parameters
    ----------
    still, moving : tuple of Shape
        The segment that keeps still, and the one that turns.
    zero_direction_deg : float
        Direction of the moving segment at an angle of 0, counted from the right, against the clock.
    sense : {1, -1}
        1 where a larger angle turns it against the clock.
    reach : float
        How far the moving segment reaches.
    floor : tuple of tuple of float or None
        Line of the floor.
    """

    still: tuple[Shape, ...]
    moving: tuple[Shape, ...]
    zero_direction_deg: float
    sense: int
    reach: float
    floor: tuple[Point, ...] | None = None


def _limb(length: float, width: float) -> Shape:
    return Shape(((0.0, 0.0), (length, 0.0)), width)


UP, DOWN, AHEAD = 90.0, -90.0, 0.0
FOOT = Shape(((-6.0, -6.0), (-28.0, -32.0), (86.0, -32.0), (60.0, -22.0)), 16.0, closed=True)
SHIN_UP = Shape(((0.0, 0.0), (0.0, 125.0)), 26.0)
THIGH_UP = Shape(((0.0, 0.0), (0.0, 120.0)), 32.0)
UPPER_ARM_UP = Shape(((0.0, 0.0), (0.0, 110.0)), 24.0)
FOREARM_UP = Shape(((0.0, 0.0), (0.0, 110.0)), 20.0)
HEAD = 30.0
# of the lower leg that hangs from the knee: the foot points ahead of the person, to the left of what points down
LEG = (_limb(112.0, 26.0), Shape(((112.0, 0.0), (112.0, 38.0)), 18.0))
THIGH = (_limb(118.0, 32.0),)
ARM = (_limb(118.0, 24.0),)
FOREARM = (_limb(92.0, 20.0), Shape(((92.0, 0.0), (112.0, 0.0)), 24.0))
HAND = (_limb(46.0, 24.0), Shape(((46.0, 0.0), (80.0, 0.0)), 16.0))
FOOT_FROM_THE_FRONT = (Shape(((8.0, 0.0), (40.0, -20.0), (40.0, 20.0)), 16.0, closed=True),)
FOOT_FROM_ABOVE = (Shape(((-28.0, -12.0), (70.0, -22.0), (86.0, 4.0), (66.0, 18.0), (-28.0, 12.0)), 14.0, closed=True),)
FIST = (Shape(((-34.0, 0.0), (30.0, 0.0)), 30.0), Shape(((30.0, 0.0), (62.0, -6.0)), 16.0))


def _body(across: float, shoulder: float, hip: float) -> tuple[Shape, ...]:
    """Give trunk and head, the middle of the body so far to the picture's right of the joint."""
    return (
        Shape(((across, shoulder - 6), (across, hip)), 56.0),
        Shape(((across, shoulder + 58), (across, shoulder + 60)), 2 * HEAD - 8),
    )


# joint and view -> what keeps still, what moves, direction at 0, reach
_SEEN: dict[tuple[str, View], tuple[tuple[Shape, ...], tuple[Shape, ...], float, float]] = {
    ("ankle", "side"): ((SHIN_UP,), (FOOT,), AHEAD, 96.0),
    ("ankle", "front"): ((SHIN_UP,), FOOT_FROM_THE_FRONT, DOWN, 58.0),
    ("knee", "side"): ((THIGH_UP,), LEG, DOWN, 124.0),
    ("hip", "side"): (_body(0.0, 130.0, 14.0), THIGH, DOWN, 132.0),
    ("hip", "front"): (_body(26.0, 130.0, 14.0), THIGH, DOWN, 132.0),
    ("hip", "above"): ((Shape(((-4.0, -6.0), (-96.0, -6.0)), 50.0),), FOOT_FROM_ABOVE, UP, 96.0),
    ("shoulder", "side"): (_body(0.0, 0.0, -130.0), ARM, DOWN, 130.0),
    ("shoulder", "front"): (_body(46.0, 0.0, -130.0), ARM, DOWN, 130.0),
    ("shoulder", "above"): ((Shape(((-24.0, 0.0), (-104.0, 0.0)), 50.0),), FOREARM, UP, 122.0),
    ("elbow", "side"): ((UPPER_ARM_UP,), FOREARM, DOWN, 124.0),
    ("elbow", "hand"): ((UPPER_ARM_UP,), FIST, UP, 72.0),
    ("wrist", "side"): ((FOREARM_UP,), HAND, DOWN, 90.0),
    ("wrist", "front"): ((FOREARM_UP,), HAND, DOWN, 90.0),
}


def view_of(motion: Motion) -> View:
    """Tell from where a motion is seen as a turn in the plane of the picture.

    Parameters
    ----------
    motion : Motion
        The motion.

    Returns
    -------
    {"side", "front", "above", "hand"}
        Along the largest component of its axis; a turn of the forearm from the front, where the hand is.
    """
    sizes = [abs(each) for each in motion.right_axis]
    view: View = ("front", "above", "side")[sizes.index(max(sizes))]
    return "hand" if (motion.joint, view) == ("elbow", "above") else view


def drawing_of(exercise: Exercise, motion: Motion) -> Drawing:
    """Give the shapes of an exercise.

    Parameters
    ----------
    exercise : Exercise
        What was prescribed.
    motion : Motion
        Its motion.

    Returns
    -------
    Drawing
        Shapes, and which way they turn.
    """
    view = view_of(motion)
    still, moving, zero_direction_deg, reach = _SEEN[motion.joint, view]
    x, y, z = motion.right_axis
    # the axis points at the one who looks: from the front along X, from above along Y, from the right along Z; a bent
    # forearm's Y points away from the one in front
    towards = {"front": x, "above": y, "side": z, "hand": -y}[view]
    drawing = Drawing(still, moving, zero_direction_deg, 1 if towards > 0 else -1, reach)
    if exercise.ends_on_floor:
        drawing = replace(drawing, floor=((-70.0, -44.0), (130.0, -44.0)))
    if exercise.still_segment == "thigh, seated":
        # the thigh lies level: all of it turned against the clock
        turned = tuple(replace(each, points=tuple((-py, px) for px, py in each.points)) for each in drawing.still)
        return replace(drawing, still=turned, zero_direction_deg=drawing.zero_direction_deg + 90.0)
    still_segment = STILL_SEGMENTS.get(exercise.still_segment or "")
    if still_segment is not None and still_segment.side_of_joint == "distal":
        # the foot stays on the floor and the shin leans over it
        return Drawing((FOOT,), (_limb(125.0, 26.0),), UP, -drawing.sense, 138.0, ((-70.0, -44.0), (130.0, -44.0)))
    return drawing
