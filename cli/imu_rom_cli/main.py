"""The ``imu-rom`` command: names its subcommands, loads each only when it is called, turns errors into exit codes."""

import gc
import importlib
import re
from collections.abc import Sequence

import click

from imu_rom.errors import ImuRomError
from imu_rom.version import __version__
from imu_rom_cli.thrown_away import interrupts_raised_again

__all__ = ["main"]

# command -> (module below imu_rom_cli, one line of help), so that --help loads no numpy
COMMANDS = {
    "analyse": ("analyse", "Compare a recorded session with its plan, per set and repetition."),
    "angle": ("angle", "Joint angle over time with its uncertainty, without a plan."),
    "clinic": ("clinic", "Set up a clinic that patients upload to, and keep it well."),
    "cohort": ("cohort", "All recordings of a dataset by their plans, as tables."),
    "compare-reference": ("compare_reference", "A session against another measurement of the joint, with a page."),
    "export": ("export", "A result or a course as files that other programs read."),
    "figure": ("figure", "Figure for a paper, of a session or a course (svg, png, pdf)."),
    "inspect": ("inspect", "What is in a recording: sensors, rate, still stretches, findings."),
    "repetitions": ("repetitions", "Sets, repetitions and tempo from one sensor, without a plan."),
    "joints": ("joints", "Joints and motions with zero, sign and range; tendon sites they compress."),
    "plan": ("plan", "Check a plan, say its calendar in words, or write one from a published programme."),
    "power": ("power", "How many people and sessions a study needs, by simulated studies."),
    "progress": ("progress", "Weeks of a course: done of the dose, measured, pain, criteria, patterns."),
    "report": ("report", "Page of a session or a course for people, from its folder."),
    "serve": ("serve", "Run the clinic's pages and a worker: patients upload, clinicians review."),
    "sensor-check": ("sensor_check", "Check both sensors on a straight edge at known angles."),
    "simulate": ("simulate", "Make a recording with exactly known angles."),
    "taping-check": ("taping_check", "Work out how well the zero repeats from one taping to the next."),
}

# A command makes hundreds of thousands of objects that stay until it ends: to look through them all for unreachable
# ones as often as a program that runs for days takes a twentieth of its time.
RARELY = (100_000, 50, 50)

# a group called without a word more gets its help; click before 8.2 printed it by itself
NO_WORDS: tuple[type[Exception], ...] = tuple(
    each for each in (getattr(click.exceptions, "NoArgsIsHelpError", None),) if each is not None
)


class _Commands(click.Group):
    """Subcommands that are imported when they are called."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        del ctx
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        del ctx
        if cmd_name not in COMMANDS:
            return None
        command = importlib.import_module(f"imu_rom_cli.{COMMANDS[cmd_name][0]}").command
        return command if isinstance(command, click.Command) else None

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        del ctx
        with formatter.section("Commands"):
            formatter.write_dl([(name, text) for name, (_, text) in COMMANDS.items()])


@click.command(cls=_Commands, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="imu-rom")
def _imu_rom() -> None:
    """Compressive end-range exposure of tendons, from two small motion sensors.

    Supports the judgement of a licensed clinician. Measures angle and time, never tissue load; diagnoses nothing.
    """


def _usage(error: click.ClickException) -> str:
    """Say in one sentence what is wrong with the words of the command line, and where they are explained."""
    message = " ".join(error.format_message().split()).removesuffix(".")
    message = re.sub(r"('[^']*') is not a valid (?:float|integer)(?: range)?", r"must be a number, got \1", message)
    context = error.ctx if isinstance(error, click.UsageError) else None
    path = "imu-rom" if context is None else context.command_path
    return f"{message[:1].lower()}{message[1:]}; see {path} --help."


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line.

    Parameters
    ----------
    arguments : sequence of str, optional
        Words after the program's name; None takes those of the process.

    Returns
    -------
    int
        0 answered, 2 cannot (one sentence on stderr), 130 interrupted.
    """
    usual = gc.get_threshold()
    gc.set_threshold(*RARELY)
    try:
        with interrupts_raised_again():
            return _exit_code(arguments)
    finally:
        gc.set_threshold(*usual)


def _exit_code(arguments: Sequence[str] | None) -> int:
    try:
        # click gives the code of an Exit back where it does not end the program itself
        code = _imu_rom.main(
            args=None if arguments is None else list(arguments), prog_name="imu-rom", standalone_mode=False
        )
    except click.exceptions.Abort:
        click.echo("Interrupted; nothing was written.", err=True)
        return 130
    except KeyboardInterrupt:
        click.echo("Interrupted; nothing was written.", err=True)
        return 130
    except click.ClickException as error:
        if isinstance(error, NO_WORDS):
            error.show()
        else:
            click.echo(f"imu-rom: {_usage(error)}", err=True)
        return 2
    except click.exceptions.Exit as stop:
        return stop.exit_code
    except ImuRomError as error:
        click.echo(f"imu-rom: {error}", err=True)
        return 2
    return code if isinstance(code, int) else 0
