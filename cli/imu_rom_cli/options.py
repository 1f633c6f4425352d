"""Options that several commands share: how a recording is named and read, where the settings are."""

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
    "check_two_points",
    "load_settings",
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
