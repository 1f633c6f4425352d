"""``imu-rom joints``: the joints and motions that can be measured, and the tendon sites that they compress."""

import shutil

import click

__all__ = ["command"]

WIDEST = 120


@click.command(name="joints")
@click.argument("joint", metavar="[JOINT]", required=False)
@click.option("--site", metavar="SITE", help="One tendon site, with the joint that compresses it and all sources.")
@click.option("--json", "as_json", is_flag=True, help="Print the list as JSON, with all sources.")
def command(joint: str | None, site: str | None, as_json: bool) -> None:
    """List joints and motions with zero, sign and range, and the tendon sites that they compress.

    JOINT narrows it down to one joint and its sites, with all sources.
    """
    # imported here so that --help loads no numpy
    from imu_rom.dose.sites import SITES, tendon_site  # noqa: PLC0415
    from imu_rom.motion.joints import JOINTS, joint_named  # noqa: PLC0415

    if site is not None and joint is not None:
        raise click.UsageError("name a JOINT or a --site, not both")
    joints, sites = tuple(JOINTS.values()), tuple(SITES.values())
    if site is not None:
        sites = (tendon_site(site, field="--site"),)
        joints = (joint_named(sites[0].joint),)
    elif joint is not None:
        joints = (joint_named(joint),)
        sites = tuple(each for each in sites if each.joint == joint)
    if as_json:
        from imu_rom.exchange.joint_list import joint_list  # noqa: PLC0415
        from imu_rom.exchange.plain_values import json_text  # noqa: PLC0415

        listed = joint_list(tuple(each.name for each in joints), tuple(each.name for each in sites))
        click.echo(json_text(listed), nl=False)
        return
    from imu_rom.wording.joint_text import (  # noqa: PLC0415
        joint_lines,
        joints_heading,
        site_lines,
        sites_heading,
        tag_lines,
    )

    width = min(shutil.get_terminal_size().columns, WIDEST)
    named = joint is not None or site is not None
    blocks = [joints_heading(width), *(joint_lines(each, width, in_full=named) for each in joints)]
    if sites:
        blocks += [sites_heading(width), *(site_lines(each, width, in_full=named) for each in sites), tag_lines()]
    else:
        blocks.append([f"No tendon site is listed for the {joint}."])
    click.echo("\n\n".join("\n".join(block) for block in blocks))
