"""A drawing of a movement computed from its angles: two segments of the joint, the planned part, the furthest reached.

All is worked out for the right side, looked at from where the movement is seen as a turn in the plane of the picture:
from the side (the person looks to the picture's right), from the front, or from above. The left side is its mirror
image. Which way the moving segment turns follows from the axes of `imu_rom.motion.joints`, not from the drawing.
"""

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from imu_rom.dose.exercise import Exercise
from imu_rom.motion.joints import joint_motion
from imu_rom.report.movement_shapes import Shape, View, drawing_of, view_of
from imu_rom.wording.patient_angles import Measured, PlannedPart

__all__ = ["Mark", "MovementPicture", "movement_picture"]

Point = tuple[float, float]

MARGIN = 12.0
# the furthest that an arc without an upper end is drawn
OPEN_ARC_DEG = 15.0


@dataclass(frozen=True)
class Mark:
    """One thing that is drawn.

    Parameters
    ----------
    kind : str
        What it is; the style goes by it.
    path : str
        Its outline in SVG's path language.
    width : float
        Width of the line; 0 where its style says.
    """

    kind: str
    path: str
    width: float = 0.0


@dataclass(frozen=True)
class MovementPicture:
    """The drawing.

    Parameters
    ----------
    view_box : str
        Part of the plane that is shown.
    view : {"side", "front", "above", "hand"}
        Where one looks from.
    marks : tuple of Mark
        What is drawn, from back to front.
    """

    view_box: str
    view: View
    marks: tuple[Mark, ...]


class _Plane:
    """From angles and lengths, y upwards, to the picture's coordinates, y downwards; the left side mirrored."""

    def __init__(self, *, mirrored: bool) -> None:
        self.across = -1.0 if mirrored else 1.0
        self.seen: list[Point] = []

    def point(self, x: float, y: float) -> str:
        x, y = round(self.across * x, 1) + 0.0, round(-y, 1) + 0.0
        self.seen.append((x, y))
        return f"{x:g} {y:g}"

    def line(self, points: Iterable[Point], *, closed: bool = False) -> str:
        return "M" + "L".join(self.point(*each) for each in points) + ("Z" if closed else "")

    def view_box(self, widest: float) -> str:
        xs, ys = zip(*self.seen, strict=True)
        edge = MARGIN + widest / 2
        left, top = min(xs) - edge, min(ys) - edge
        return f"{left:.1f} {top:.1f} {max(xs) + edge - left:.1f} {max(ys) + edge - top:.1f}"


def _at(radius: float, deg: float) -> Point:
    return radius * math.cos(math.radians(deg)), radius * math.sin(math.radians(deg))


def _arc(radius: float, from_deg: float, to_deg: float) -> list[Point]:
    steps = max(2, math.ceil(abs(to_deg - from_deg) / 3.0))
    return [_at(radius, from_deg + (to_deg - from_deg) * step / steps) for step in range(steps + 1)]


def _turned(points: Sequence[Point], deg: float) -> list[Point]:
    cosine, sine = math.cos(math.radians(deg)), math.sin(math.radians(deg))
    return [(cosine * x - sine * y, sine * x + cosine * y) for x, y in points]


def movement_picture(
    exercise: Exercise, pose_deg: float, part: PlannedPart | None, furthest: Measured | None
) -> MovementPicture:
    """Draw a movement.

    Parameters
    ----------
    exercise : Exercise
        What was prescribed.
    pose_deg : float
        Angle of the pose at the start.
    part : PlannedPart or None
        The planned part of the range.
    furthest : Measured or None
        The furthest that was reached; the moving segment is drawn there, else in the pose at the start.

    Returns
    -------
    MovementPicture
        The same input gives the same picture.
    """
    motion = joint_motion(exercise.joint, exercise.motion)
    drawing = drawing_of(exercise, motion)
    plane = _Plane(mirrored=exercise.side == "left")
    shown_deg = pose_deg if furthest is None else furthest.deg

    def direction(deg: float) -> float:
        return drawing.zero_direction_deg + drawing.sense * deg

    def shapes(kind: str, which: Sequence[Shape], turn_deg: float) -> list[Mark]:
        lines = [
            Mark(kind, plane.line(_turned(each.points, turn_deg), closed=each.closed), each.width) for each in which
        ]
        # an outline all around, then the inside over it, so that parts of one limb run into each other
        return [Mark(f"{each.kind}-edge", each.path, each.width + 4) for each in lines] + lines

    marks: list[Mark] = []
    if drawing.floor is not None:
        marks.append(Mark("floor", plane.line(drawing.floor)))
    marks += shapes("still", drawing.still, 0.0)
    marks += shapes("moving", drawing.moving, direction(shown_deg))
    marks.append(Mark("joint", _circle(plane, (0.0, 0.0), 8.0)))
    ring, outer = drawing.reach + 12.0, drawing.reach + 44.0
    if part is not None:
        marks += _planned(
            plane, direction, (ring, outer), _drawn_part(exercise, part, pose_deg, motion.possible_range_deg)
        )
        if not math.isinf(part.high_deg):
            marks.append(
                Mark(
                    "stop",
                    plane.line([_at(ring - 8, direction(part.high_deg)), _at(outer + 8, direction(part.high_deg))]),
                )
            )
    marks.append(Mark("start", plane.line([_at(12.0, direction(pose_deg)), _at(outer, direction(pose_deg))])))
    if furthest is not None:
        far = outer + 18.0
        low, high = direction(furthest.low_deg), direction(furthest.high_deg)
        marks.append(Mark("interval", plane.line(_arc(far, low, high))))
        marks += [Mark("interval", plane.line([_at(far - 5, end), _at(far + 5, end)])) for end in (low, high)]
        marks.append(Mark("furthest", _circle(plane, _at(far, direction(furthest.deg)), 7.0)))
    widest = max(each.width for each in (*drawing.still, *drawing.moving))
    return MovementPicture(plane.view_box(widest), view_of(motion), tuple(marks))


def _drawn_part(
    exercise: Exercise, part: PlannedPart, pose_deg: float, possible_deg: tuple[float, float]
) -> tuple[float, float]:
    """Give the planned part ends that can be drawn."""
    low, high = part.low_deg, part.high_deg
    if math.isinf(low):
        low = min(pose_deg if exercise.start_deg is None else exercise.start_deg, high)
    if math.isinf(high):
        high = min(low + OPEN_ARC_DEG, max(possible_deg[1], low))
    return low, high


def _planned(
    plane: _Plane, direction: Callable[[float], float], radii: tuple[float, float], part: tuple[float, float]
) -> list[Mark]:
    inner, outer = radii
    low, high = direction(part[0]), direction(part[1])
    outline = plane.line([*_arc(outer, low, high), *reversed(_arc(inner, low, high))], closed=True)
    return [Mark("planned", outline)]


def _circle(plane: _Plane, middle: Point, radius: float) -> str:
    x, y = middle
    ends = plane.point(x - radius, y), plane.point(x + radius, y)
    size = f"A{radius:g} {radius:g} 0 1 1 "
    return f"M{ends[0]}{size}{ends[1]}{size}{ends[0]}Z"
