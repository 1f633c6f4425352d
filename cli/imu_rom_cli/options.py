"""Options that several commands share: how a recording is named and read, and how a stretch of time is written."""

import math
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

if TYPE_CHECKING:
    from imu_rom.recording.model import InputFile, Recording
    from imu_rom.settings import Settings

__all__ = [
    "FILE",
    "ReadingOptions",
    "Stretch",
    "check_two_points",
    "exercise_option",
    "load_settings",
    "neutral_option",
    "parse_stretch",
    "progress",
    "reading_options",
    "settings_option",
    "several_readings_options",
]

Command = TypeVar("Command", bound=Callable[..., Any])
FILE = click.Path(path_type=Path)


def day_in_words(context: click.Context, parameter: click.Parameter, value: str | None) -> date | None:
    """Read a day; a callback of an option.

    Parameters
    ----------
    context : click.Context
        Not used.
    parameter : click.Parameter
        Not used.
    value : str or None
        As it was typed.

    Returns
    -------
    date or None
        None where the option was left out.

    Raises
    ------
    click.BadParameter
        It is no day.
    """
    del context, parameter
    try:
        return None if value is None else date.fromisoformat(value)
    except ValueError:
        raise click.BadParameter(f"must be a day such as 2026-12-01, got {value!r}") from None


Stretch = tuple[float, float]
FORMAT_NAMES = (
    "columns",
    "accelerometer_unit",
    "gyroscope_unit",
    "magnetometer_unit",
    "time_unit",
    "rate_hz",
    "separator",
    "decimal",
)
"""What the user says about delimited files, by the fields of `imu_rom.recording.delimited.DelimitedOptions`."""


def parse_stretch(text: str) -> Stretch | None:
    """Read START:STOP in seconds.

    Parameters
    ----------
    text : str
        As typed.

    Returns
    -------
    tuple of float or None
        Start and stop in seconds; None where it is not that.
    """
    parts = text.split(":")
    if len(parts) != 2:
        return None
    try:
        start_s, stop_s = (float(part) for part in parts)
    except ValueError:
        return None
    return (start_s, stop_s) if 0 <= start_s < stop_s < math.inf else None


def neutral_option(*words: str) -> Callable[[Command], Command]:
    """Add ``--neutral``, one of some words or START:STOP.

    Parameters
    ----------
    *words : str
        Words that are allowed, the first one the default.

    Returns
    -------
    callable
        Decorator of a command's function with a parameter ``neutral``: a word, or (start_s, stop_s).
    """

    def converted(ctx: click.Context, param: click.Parameter, value: str) -> str | Stretch:
        text = value.strip()
        stretch = parse_stretch(text)
        if stretch is None and text not in words:
            must = f"must be {', '.join(words)} or START:STOP in seconds such as 22.5:29"
            raise click.BadParameter(f"{must}, got {text!r}", ctx, param)
        return text if stretch is None else stretch

    meanings = {"auto": "auto finds it", "none": "none leaves zero and sign arbitrary"}
    return click.option(
        "--neutral",
        callback=converted,
        default=words[0],
        metavar="|".join((*words[:1], "START:STOP", *words[1:])),
        help=f"Where the neutral pose is, in seconds; {'; '.join(meanings[word] for word in words)}.",
    )


def exercise_option(command: Command) -> Command:
    """Add ``--exercise``, NAME or NAME@START:STOP, as often as there are exercises.

    Parameters
    ----------
    command : callable
        A command's function with a parameter ``exercise``: of each (name, None or (start_s, stop_s)).

    Returns
    -------
    callable
        The decorated function.
    """

    def converted(
        ctx: click.Context, param: click.Parameter, values: tuple[str, ...]
    ) -> tuple[tuple[str, Stretch | None], ...]:
        return tuple(_named(ctx, param, value) for value in values)

    def _named(ctx: click.Context, param: click.Parameter, value: str) -> tuple[str, Stretch | None]:
        name, at, rest = value.partition("@")
        stretch = parse_stretch(rest) if at else None
        if not name.strip() or (at and stretch is None):
            must = "must be NAME or NAME@START:STOP in seconds such as heeldrop@60:240"
            raise click.BadParameter(f"{must}, got {value!r}", ctx, param)
        return name.strip(), stretch

    return click.option(
        "--exercise",
        callback=converted,
        multiple=True,
        metavar="NAME[@START:STOP]",
        help="Exercise of the plan that was done, and its stretch in seconds; once for each of several. Else events "
        "beside the recording, its task label or the plan's order say it.",
    )(command)


@dataclass(frozen=True)
class ReadingOptions:
    """How the user names a recording, and what they say about delimited files.

    Parameters
    ----------
    recording : Path or None
        The recording; None where one file a sensor is named.
    values : dict
        Fields of `imu_rom.recording.delimited.DelimitedOptions`.
    """

    recording: Path | None
    values: dict[str, Any]

    def read(
        self,
        settings: "Settings",
        *,
        proximal: str | None = None,
        distal: str | None = None,
        recorded_at: str | None = None,
    ) -> "Recording":
        """Read the recording.

        Parameters
        ----------
        settings : Settings
            All settings.
        proximal, distal : str, optional
            Tracked points of the two sensors that are used.
        recorded_at : str, optional
            Time of the first sample.

        Returns
        -------
        Recording
            As read and checked.
        """
        from imu_rom.recording.delimited import DelimitedOptions  # noqa: PLC0415  so that --help loads no numpy
        from imu_rom.recording.reading import read_recording  # noqa: PLC0415

        options = DelimitedOptions(**self.values, proximal=proximal, distal=distal)
        return read_recording(self.recording, settings.reading, options, recorded_at=recorded_at)

    @property
    def files(self) -> tuple[Path, ...]:
        """Files that the user names."""
        named = (self.recording, self.values["proximal_file"], self.values["distal_file"])
        return tuple(each for each in named if each is not None)


def reading_options(command: Command) -> Command:
    """Add the recording and what delimited files may leave open; the command gets them as ``reading``.

    Parameters
    ----------
    command : callable
        A command's function with a parameter ``reading``.

    Returns
    -------
    callable
        The decorated function.
    """
    options = [
        click.argument("recording", required=False, type=FILE),
        click.option("--proximal-file", type=FILE, help="File of the proximal sensor (one file a sensor)."),
        click.option("--distal-file", type=FILE, help="File of the distal sensor."),
        click.option(
            "--clocks",
            type=click.Choice(["shared", "separate"]),
            default="shared",
            show_default=True,
            help="separate: each sensor was started by itself; offset and skew are told from what both felt.",
        ),
        *_format_options(),
    ]
    inner: Callable[..., Any] = command

    def gathered(*arguments: Any, recording: Path | None, **named: Any) -> Any:  # noqa: ANN401
        values = {name: named.pop(name) for name in ("proximal_file", "distal_file", "clocks", *FORMAT_NAMES)}
        if recording is None and values["proximal_file"] is None and values["distal_file"] is None:
            raise click.UsageError("name a RECORDING, or one file a sensor by --proximal-file and --distal-file")
        return inner(*arguments, reading=ReadingOptions(recording, values), **named)

    return _decorated(gathered, command, options)


def check_two_points(proximal: str | None, distal: str | None) -> None:
    """Refuse one sensor that is named as both.

    Parameters
    ----------
    proximal, distal : str or None
        Tracked points; None where the command finds them.

    Raises
    ------
    click.UsageError
        Both are the same.
    """
    if proximal is not None and proximal == distal:
        raise click.UsageError(f"--proximal and --distal must be two sensors, got {proximal!r} for both")


def several_readings_options(command: Command) -> Command:
    """Add several recordings and what delimited files may leave open; the command gets them as ``readings``.

    Parameters
    ----------
    command : callable
        A command's function with a parameter ``readings``.

    Returns
    -------
    callable
        The decorated function.
    """
    options = [click.argument("recordings", nargs=-1, required=True, type=FILE), *_format_options()]
    inner: Callable[..., Any] = command

    def gathered(*arguments: Any, recordings: tuple[Path, ...], **named: Any) -> Any:  # noqa: ANN401
        values = {"proximal_file": None, "distal_file": None, **{name: named.pop(name) for name in FORMAT_NAMES}}
        return inner(*arguments, readings=tuple(ReadingOptions(each, values) for each in recordings), **named)

    return _decorated(gathered, command, options)


def _format_options() -> list[Callable[[Any], Any]]:
    return [
        click.option(
            "--columns",
            multiple=True,
            metavar="'[POINT.]KIND=COLUMN,..; ..'",
            help="Columns of a delimited file, such as 'time=1; shank.acc=2,3,4; shank.gyro=5,6,7'.",
        ),
        click.option("--accelerometer-unit", metavar="UNIT", help="g or m/s^2, where the file does not say."),
        click.option("--gyroscope-unit", metavar="UNIT", help="deg/s or rad/s, where the file does not say."),
        click.option("--magnetometer-unit", metavar="UNIT", help="Such as uT, where the file does not say."),
        click.option("--time-unit", metavar="UNIT", help="s, ms or us, where the file does not say."),
        click.option("--rate", "rate_hz", type=float, metavar="HZ", help="Sampling rate of files without time stamps."),
        click.option("--separator", type=click.Choice(["tab", "comma", "semicolon"]), help="Else found in the file."),
        click.option("--decimal", type=click.Choice(["point", "comma"]), help="Decimal sign, else found in the file."),
    ]


def _decorated(gathered: Callable[..., Any], command: Command, options: list[Callable[[Any], Any]]) -> Command:
    gathered.__name__, gathered.__doc__ = command.__name__, command.__doc__
    gathered.__dict__.update(command.__dict__)
    for option in reversed(options):
        gathered = option(gathered)
    return gathered  # type: ignore[return-value]


def settings_option(command: Command) -> Command:
    """Add ``--settings``.

    Parameters
    ----------
    command : callable
        A command's function with a parameter ``settings_file``.

    Returns
    -------
    callable
        The decorated function.
    """
    return click.option(
        "--settings",
        "settings_file",
        type=FILE,
        metavar="FILE.toml",
        help="Settings; what it leaves out keeps its default.",
    )(command)


def load_settings(settings_file: Path | None) -> "tuple[Settings, tuple[InputFile, ...]]":
    """Read the settings file, if there is one.

    Parameters
    ----------
    settings_file : Path or None
        TOML file.

    Returns
    -------
    settings : Settings
        Its settings, or the defaults.
    files : tuple of InputFile
        The file, for the provenance; empty without one.
    """
    from imu_rom.exchange.settings_file import read_settings  # noqa: PLC0415
    from imu_rom.settings import Settings  # noqa: PLC0415

    if settings_file is None:
        return Settings(), ()
    settings, file = read_settings(settings_file)
    return settings, (file,)


@contextmanager
def progress(words: str) -> Iterator[None]:
    """Show on a terminal what is going on; say nothing where stderr is no terminal.

    Parameters
    ----------
    words : str
        What is going on.

    Yields
    ------
    None
        While it goes on.
    """
    if not sys.stderr.isatty():
        yield
        return
    from rich.console import Console  # noqa: PLC0415

    with Console(stderr=True).status(words):
        yield
