"""``imu-rom export``: a result or a course as files that other programs read."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import click

from imu_rom_cli.options import FILE, load_settings, settings_option

if TYPE_CHECKING:
    from imu_rom.exchange.exported import Exported

__all__ = ["FORMATS", "Format", "command"]


@dataclass(frozen=True)
class Format:
    """One format that results go out in.

    Parameters
    ----------
    what : str
        For the help.
    write : callable
        Takes what goes out, where to and whether an earlier export may be replaced; returns what stands on standard
        output, empty where all is in files. Its destination is None where the user named none.
    needs_out : bool
        True where it is a folder of files, which must be named.
    has_samples : bool
        True where the angle over time is part of it.
    """

    what: str
    write: Callable[["Exported", Path | None, bool], str]
    needs_out: bool = True
    has_samples: bool = True


def _tables(exported: "Exported", out: Path | None, overwrite: bool) -> str:
    from imu_rom.exchange.tidy_files import write_text_tables  # noqa: PLC0415

    write_text_tables(exported, _named(out), overwrite=overwrite)
    return ""


def _parquet(exported: "Exported", out: Path | None, overwrite: bool) -> str:
    from imu_rom.exchange.tidy_files import write_parquet_tables  # noqa: PLC0415

    write_parquet_tables(exported, _named(out), overwrite=overwrite)
    return ""


def _fhir(exported: "Exported", out: Path | None, overwrite: bool) -> str:
    from imu_rom.exchange.fhir import write_fhir  # noqa: PLC0415

    return _one_file("bundle.json", write_fhir(exported), out, overwrite)


def _methods(exported: "Exported", out: Path | None, overwrite: bool) -> str:
    from imu_rom.report.methods import write_methods  # noqa: PLC0415

    return _one_file("methods.md", write_methods(exported), out, overwrite)


def _one_file(name: str, data: bytes, out: Path | None, overwrite: bool) -> str:
    from imu_rom.exchange.folder import whole_folder  # noqa: PLC0415

    if out is None:
        return data.decode()
    with whole_folder(out, overwrite=overwrite, files=(name,)) as folder:
        (folder / name).write_bytes(data)
    return ""


def _bids(exported: "Exported", out: Path | None, overwrite: bool) -> str:
    from imu_rom.exchange.bids_derivative import write_bids_derivative  # noqa: PLC0415

    write_bids_derivative(exported, _named(out), overwrite=overwrite)
    if exported.course is not None:
        click.echo("Left out: the diary and the weeks, for which BIDS has no place.", err=True)
    return ""


def _named(out: Path | None) -> Path:
    if out is None:
        raise click.UsageError("this format needs --out FOLDER")
    return out


FORMATS: Mapping[str, Format] = {
    "tables": Format("comma-separated tables with a data dictionary", _tables),
    "parquet": Format("the same as Parquet", _parquet),
    "bids": Format("the joint angle as a BIDS derivative", _bids),
    "fhir": Format("an HL7 FHIR R4B Bundle", _fhir, needs_out=False, has_samples=False),
    "methods": Format("a methods text for a paper, of one result", _methods, needs_out=False, has_samples=False),
}


@click.command(name="export")
@click.argument("path", type=click.Path(path_type=Path), metavar="RESULT|FOLDER")
@click.option(
    "--to",
    "to",
    required=True,
    type=click.Choice(list(FORMATS)),
    help="; ".join(f"{name}: {each.what}" for name, each in FORMATS.items()) + ".",
)
@click.option("--out", type=click.Path(path_type=Path), metavar="FOLDER", help="Write the files there.")
@click.option("--overwrite", is_flag=True, help="Replace an earlier export there.")
@click.option("--deidentify", is_flag=True, help="Shift dates, take out texts and serials, and say what remains.")
@click.option("--secret", "secret_file", type=FILE, metavar="FILE", help="Makes the shift one that nobody can undo.")
@settings_option
def command(
    path: Path,
    to: str,
    out: Path | None,
    overwrite: bool,
    deidentify: bool,
    secret_file: Path | None,
    settings_file: Path | None,
) -> None:
    """Write a result, or a whole course, as files that other programs read.

    RESULT|FOLDER is a result.json, the folder that imu-rom analyse --out wrote it to, or the folder of a course.
    """
    # imported here so that --help loads no numpy
    from imu_rom.course.exporting import read_exported  # noqa: PLC0415
    from imu_rom.exchange.deidentify import deidentified, read_secret, what_remains  # noqa: PLC0415

    chosen = FORMATS[to]
    if overwrite and out is None:
        raise click.UsageError("--overwrite needs --out FOLDER")
    if chosen.needs_out and out is None:
        raise click.UsageError(f"--to {to} needs --out FOLDER")
    if secret_file is not None and not deidentify:
        raise click.UsageError("--secret needs --deidentify")
    secret = b"" if secret_file is None else read_secret(secret_file)
    settings, _ = load_settings(settings_file)
    exported = read_exported(path, settings)
    if deidentify:
        exported = deidentified(exported, secret)
    text = chosen.write(exported, out, overwrite)
    if text:
        click.echo(text, nl=False)
    unseen = [exported.without_samples] if chosen.has_samples and exported.without_samples else []
    for sentence in (*exported.left_out, *unseen):
        click.echo(f"Left out: {sentence}", err=True)
    if deidentify:
        for sentence in what_remains(exported, secret):
            click.echo(f"Remains: {sentence}", err=True)
    if out is not None:
        click.echo(f"Written to {out}.", err=True)
