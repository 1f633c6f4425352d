"""Which column of a logger's file is which channel of which sensor: from the heading, or as the user says.

The user's words are entries ``[POINT.]KIND=COLUMN[,COLUMN,COLUMN]``, parted by semicolons, where KIND is time, acc,
gyro or mag and a column is its heading or its number from 1: ``time=1; shank.acc=2,3,4; shank.gyro=5,6,7``.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from imu_rom.errors import RecordingError
from imu_rom.recording.headings import AXES, Heading, Kind, heading_of, kind_of_word, words_of
from imu_rom.recording.layout import FileLayout

__all__ = ["SensorColumns", "check_columns", "sensor_columns"]

_NEEDED: tuple[Kind, ...] = ("accelerometer", "gyroscope")
_MOST_LISTED = 24
_ADVICE = "name the columns with --columns, such as 'time=1; shank.acc=2,3,4; shank.gyro=5,6,7'"


@dataclass
class SensorColumns:
    """The columns of one sensor.

    Parameters
    ----------
    point : str
        Tracked point.
    channels : dict of str to list of Heading
        Columns of x, y and z by kind; one column for time.
    """

    point: str
    channels: dict[Kind, list[Heading]] = field(default_factory=dict)


@dataclass(frozen=True)
class _Named:
    """One entry of the user's words."""

    point: str | None
    kind: Kind
    columns: tuple[Heading, ...]


def sensor_columns(
    file: str, layout: FileLayout, entries: Sequence[str], points: Sequence[str], *, one_sensor: bool
) -> list[SensorColumns]:
    """Find the columns of each sensor in a file.

    Parameters
    ----------
    file : str
        File name, for errors.
    layout : FileLayout
        Its heading.
    entries : sequence of str
        The user's words; they replace what the heading says.
    points : sequence of str
        Tracked points to be recognised in the heading; the sensor's own where the file holds one.
    one_sensor : bool
        The file holds one sensor, on ``points[0]``.

    Returns
    -------
    list of SensorColumns
        One a sensor, each with three columns of an accelerometer and a gyroscope.

    Raises
    ------
    RecordingError
        There is no heading and no user's words, or they leave open which column is which.
    """
    headings = _headings(layout)
    named = [_entry(each, headings, layout, file) for entry in entries for each in entry.split(";") if each.strip()]
    if layout.heading is None and not named:
        raise RecordingError("the file has no heading that names its columns", where=file, do=_ADVICE)
    found = [] if layout.heading is None else [each for each in headings if each.kind is not None]
    if any(each.point is not None for each in named):
        # a point in the user's words means that they list all sensors
        found = [each for each in found if each.kind == "time"]
    replaced = {each.kind for each in named}
    found = [each for each in found if each.kind not in replaced]
    groups = _grouped(file, found, points, one_sensor=one_sensor)
    alone = [name for name in groups if name]
    for each in named:
        unnamed = "" if each.kind == "time" else alone[0] if len(alone) == 1 else "sensor"
        name = each.point or (points[0] if one_sensor else unnamed)
        groups.setdefault(name, SensorColumns(name)).channels[each.kind] = list(each.columns)
    return _complete(file, headings, groups)


def _headings(layout: FileLayout) -> list[Heading]:
    units = layout.unit_row or (None,) * layout.width
    texts = layout.heading or tuple(f"column {column + 1}" for column in range(layout.width))
    return [heading_of(column, text, unit) for column, (text, unit) in enumerate(zip(texts, units, strict=True))]


def check_columns(entries: Sequence[str]) -> None:
    """Check the form of the user's words before there is a file.

    Parameters
    ----------
    entries : sequence of str
        As `sensor_columns` takes them.

    Raises
    ------
    RecordingError
        One is not ``[POINT.]KIND=COLUMNS`` with as many columns as its kind has.
    """
    for entry in entries:
        for each in entry.split(";"):
            if each.strip():
                _parted(each)


def _parted(entry: str) -> tuple[str | None, Kind, list[str]]:
    where = f"--columns {entry.strip()!r}"
    left, equals, right = entry.partition("=")
    point, dot, word = left.strip().rpartition(".")
    kind = kind_of_word(word)
    if not equals or kind is None or (dot and not point):
        raise RecordingError("must be [POINT.]KIND=COLUMNS with KIND time, acc, gyro or mag", where=where)
    cells = [cell.strip() for cell in right.split(",")]
    needed = 1 if kind == "time" else 3
    if len(cells) != needed:
        raise RecordingError(
            f"must name {needed} {'column' if needed == 1 else 'columns'}, not {len(cells)}", where=where
        )
    return point or None, kind, cells


def _entry(entry: str, headings: Sequence[Heading], layout: FileLayout, file: str) -> _Named:
    point, kind, cells = _parted(entry)
    where = f"--columns {entry.strip()!r}"
    given = [_column(cell, headings, layout, where, file) for cell in cells]
    # the user's order is x, y, z, whatever the headings say
    axes = (None,) if kind == "time" else AXES
    columns = tuple(replace(each, kind=kind, axis=axis) for each, axis in zip(given, axes, strict=True))
    return _Named(point, kind, columns)


def _column(cell: str, headings: Sequence[Heading], layout: FileLayout, where: str, file: str) -> Heading:
    same = [each for each in headings if layout.heading is not None and each.text.casefold() == cell.casefold()]
    if len(same) == 1:
        return same[0]
    if not same and cell.isdecimal() and 1 <= int(cell) <= len(headings):
        return headings[int(cell) - 1]
    got = f"{len(same)} columns are headed {cell!r}" if same else f"{file} has no column {cell!r}"
    raise RecordingError(f"{got}; it has {_listed(headings)}", where=where, do="use the column's number, from 1")


def _listed(headings: Sequence[Heading]) -> str:
    more = f" and {len(headings) - _MOST_LISTED} more" if len(headings) > _MOST_LISTED else ""
    return ", ".join(each.text or "(no name)" for each in headings[:_MOST_LISTED]) + more


def _grouped(
    file: str, found: Sequence[Heading], points: Sequence[str], *, one_sensor: bool
) -> dict[str, SensorColumns]:
    """Sort the columns by the sensor that their headings name; time columns for all stand under the empty name."""
    spelled = {each.point for each in found if each.kind != "time"}
    names = _names(file, spelled, points, one_sensor=one_sensor)
    groups: dict[str, SensorColumns] = {}
    slots: dict[tuple[str, Kind, str | None], Heading] = {}
    for heading in found:
        if heading.kind is None:
            continue
        if heading.kind == "time" and heading.point not in names:
            name = ""
        elif heading.point in names:
            name = names[heading.point]
        else:
            continue
        slot = (name, heading.kind, heading.axis)
        if slot in slots:
            axis = f"'s {heading.axis}" if heading.axis else ""
            raise RecordingError(
                f"the columns {slots[slot].text!r} and {heading.text!r} both look like the {heading.kind}{axis}",
                where=file,
                do=_ADVICE,
            )
        slots[slot] = heading
        channels = groups.setdefault(name, SensorColumns(name)).channels
        channels.setdefault(heading.kind, []).append(heading)
    return groups


def _names(file: str, spelled: set[str], points: Sequence[str], *, one_sensor: bool) -> dict[str, str]:
    """Tracked point for each group of words that is left over in the headings."""
    matches = {
        point: [words for words in sorted(spelled) if set(words_of(point)) <= set(words.split())] for point in points
    }
    if one_sensor:
        own = matches[points[0]]
        if len(spelled) == 1:
            return {next(iter(spelled)): points[0]}
        if len(own) == 1 or not spelled:
            return dict.fromkeys(own, points[0])
        raise RecordingError(
            f"the file has the channels of {len(spelled)} sensors ({', '.join(sorted(spelled))}), one was expected",
            where=file,
            do=_ADVICE,
        )
    names = {words: words.replace(" ", "_") for words in spelled}
    for point, own in matches.items():
        if len(own) > 1:
            raise RecordingError(
                f"{point!r} may be any of {', '.join(repr(words) for words in own)}", where=file, do=_ADVICE
            )
        for words in own:
            if names[words] in points and names[words] != point:
                raise RecordingError(f"{words!r} may be {names[words]!r} or {point!r}", where=file, do=_ADVICE)
            names[words] = point
    if names.get("") == "":
        names[""] = "sensor"
    return names


def _complete(file: str, headings: Sequence[Heading], groups: Mapping[str, SensorColumns]) -> list[SensorColumns]:
    """Check that each sensor has its six columns, put these in order, and give each its time column."""
    shared = groups[""].channels.get("time") if "" in groups else None
    sensors = [group for name, group in groups.items() if name]
    if not sensors:
        raise RecordingError(
            f"no column looks like an accelerometer or a gyroscope; the file has {_listed(headings)}",
            where=file,
            do=_ADVICE,
        )
    for group in sensors:
        for kind, few in group.channels.items():
            if kind != "time":
                few.sort(key=lambda heading: AXES.index(heading.axis or "x"))
        for kind in _NEEDED:
            few = group.channels.get(kind, [])
            if len(few) != len(AXES):
                got = f"only {', '.join(heading.text for heading in few)}" if few else "none"
                has = _listed(headings)
                raise RecordingError(
                    f"the {kind} of {group.point!r} needs three columns, it has {got}; the file has {has}",
                    where=file,
                    do=_ADVICE,
                )
        if len(group.channels.get("magnetometer", [])) < len(AXES):
            group.channels.pop("magnetometer", None)
        if shared:
            group.channels.setdefault("time", shared)
    return sensors
