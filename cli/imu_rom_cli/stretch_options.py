"""Options that name stretches of a recording: poses and exercises, START:STOP in seconds."""

import math
from collections.abc import Callable
from typing import Any, TypeVar

import click

__all__ = ["Stretch", "exercise_option", "neutral_option", "parse_stretch", "second_pose_option"]

Command = TypeVar("Command", bound=Callable[..., Any])
Stretch = tuple[float, float]


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


def second_pose_option(command: Command) -> Command:
    """Add ``--second-pose``, START:STOP.

    Parameters
    ----------
    command : callable
        A command's function with a parameter ``second_pose``: (start_s, stop_s), or None.

    Returns
    -------
    callable
        The decorated function.
    """

    def converted(ctx: click.Context, param: click.Parameter, value: str | None) -> Stretch | None:
        stretch = None if value is None else parse_stretch(value.strip())
        if value is not None and stretch is None:
            raise click.BadParameter(f"must be START:STOP in seconds such as 33:37, got {value.strip()!r}", ctx, param)
        return stretch

    return click.option(
        "--second-pose",
        callback=converted,
        metavar="START:STOP",
        help="When the plan's second_pose was held, in seconds.",
    )(command)


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
