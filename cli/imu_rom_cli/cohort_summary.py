"""``imu-rom cohort summary``: what a paper needs of a cohort's tables."""

import json
from pathlib import Path
from typing import TYPE_CHECKING

import click

from imu_rom_cli.options import FILE, progress

if TYPE_CHECKING:
    from imu_rom.dose.cohort_summary import CohortSummary

__all__ = ["summary"]


@click.command("summary", short_help="Exposure by arm and week, reliability, agreement, missing data.")
@click.argument("folder", metavar="FOLDER", type=FILE)
@click.option("--arm", "arm_column", metavar="COLUMN", help="Column of participants.tsv; else arm or group.")
@click.option("--out", type=FILE, metavar="FOLDER", help="Write summary.json, summary.md and summary.html there.")
@click.option("--overwrite", is_flag=True, help="Replace an earlier summary in FOLDER.")
@click.option("--json", "as_json", is_flag=True, help="Print summary.json instead of sentences and tables.")
def summary(folder: Path, arm_column: str | None, out: Path | None, overwrite: bool, as_json: bool) -> None:
    """Sum up what imu-rom cohort wrote in FOLDER, over people.

    The main answer is that of the [study] in the plans; all else is marked as a sensitivity analysis.
    """
    # imported here so that --help loads no numpy
    from imu_rom.cohort.summarising import summarise_cohort  # noqa: PLC0415
    from imu_rom.exchange.cohort_summary import SUMMARY_FILES, write_summary  # noqa: PLC0415
    from imu_rom.exchange.folder import check_destination  # noqa: PLC0415
    from imu_rom.exchange.plain_values import rounded  # noqa: PLC0415
    from imu_rom.wording.summary_text import REFERENCES  # noqa: PLC0415

    if overwrite and out is None:
        raise click.UsageError("--overwrite needs --out FOLDER")
    if out is not None:
        check_destination(out, overwrite=overwrite, files=SUMMARY_FILES)
    with progress("Summing up"):
        found = rounded(summarise_cohort(folder, arm_column=arm_column))
    head = json.loads((folder / "cohort.json").read_bytes())
    layout = write_summary(found, head, REFERENCES)
    if out is not None:
        _write(out, found, layout, head["plans"], overwrite=overwrite)
    if as_json:
        click.echo(layout.decode(), nl=False)
    else:
        click.echo(_told(found))
    if out is not None:
        click.echo(f"Written to {out}.", err=True)


def _write(out: Path, found: "CohortSummary", layout: bytes, plans: list[dict[str, str]], *, overwrite: bool) -> None:
    from imu_rom.exchange.cohort_summary import SUMMARY_FILES  # noqa: PLC0415
    from imu_rom.exchange.folder import whole_folder  # noqa: PLC0415
    from imu_rom.report.summary_page import summary_page, summary_page_bytes  # noqa: PLC0415
    from imu_rom.wording.summary_markdown import summary_markdown  # noqa: PLC0415

    page = summary_page_bytes(summary_page(found, [(each["name"], each["sha256"]) for each in plans]))
    with whole_folder(out, overwrite=overwrite, files=SUMMARY_FILES) as filling:
        for name, content in zip(SUMMARY_FILES, (layout, summary_markdown(found).encode(), page), strict=True):
            (filling / name).write_bytes(content)


def _told(found: "CohortSummary") -> str:
    from imu_rom.wording.cautions import CAUTION  # noqa: PLC0415
    from imu_rom.wording.summary_text import summary_sections  # noqa: PLC0415
    from imu_rom_cli.text_table import text_table  # noqa: PLC0415

    parts = []
    for each in summary_sections(found):
        parts.append(f"{each.title}\n" + "\n".join(each.sentences))
        if each.rows:
            parts.append(text_table(each.headings, each.rows))
    return "\n\n".join([*parts, CAUTION])
