"""The list of joints and tendon sites in lines: complete, within the width, every value with its tag."""

import re

import pytest

from imu_rom.dose.sites import SITES, tendon_site
from imu_rom.motion.joints import JOINTS
from imu_rom.wording.joint_text import joint_lines, joints_heading, site_lines, sites_heading, tag_lines

WIDTHS = (60, 80, 120)


def one_line(lines):
    return " ".join(" ".join(lines).split())


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("in_full", [False, True])
def test_lines_keep_to_the_width(width, in_full):
    blocks = [joint_lines(each, width, in_full=in_full) for each in JOINTS.values()]
    blocks += [site_lines(each, width, in_full=in_full) for each in SITES.values()]
    blocks += [joints_heading(width), sites_heading(width), tag_lines()]
    for line in (line for block in blocks for line in block):
        # an address is not broken
        assert len(line) <= width or "doi:" in line
        assert line == line.rstrip()


def test_a_terminal_too_narrow_for_words_counts_as_60_columns():
    knee = JOINTS["knee"]
    assert joint_lines(knee, 10, in_full=True) == joint_lines(knee, 60, in_full=True)


@pytest.mark.parametrize("joint", JOINTS.values(), ids=lambda joint: joint.name)
def test_every_motion_of_a_joint_has_a_line_with_its_range(joint):
    lines = joint_lines(joint, 120, in_full=False)
    assert joint.zero in one_line(lines)
    for motion in joint.motions:
        (line,) = [each for each in lines if each.startswith(f"  {motion.name}  ")]
        low, high = motion.possible_range_deg
        assert f"  {low:g} to {high:g} deg  " in line
        assert motion.in_words.split()[0] in line
    full = one_line(joint_lines(joint, 120, in_full=True))
    for said in (
        joint.source,
        joint.gimbal_zone,
        joint.frames,
        *(each.possible_range_source for each in joint.motions),
    ):
        assert said in full


def test_axes_and_sequence_are_said_in_full():
    hip = one_line(joint_lines(JOINTS["hip"], 120, in_full=True))
    assert "z-x'-y''" in hip
    right, left = hip.split("right axis ")[1].split("left axis ")
    for axes, abduction, rotation in ((right, "-1 X", "1 Y"), (left.split("read off")[0], "1 X", "-1 Y")):
        assert "flexion: 1 Z" in axes
        assert f"abduction: {abduction}" in axes
        assert f"internal rotation: {rotation}" in axes
    assert "y-x'-y''" in one_line(joint_lines(JOINTS["shoulder"], 120, in_full=True))


@pytest.mark.parametrize("site", SITES.values(), ids=lambda site: site.name)
def test_every_value_of_a_site_has_its_tag_behind_it(site):
    brief = one_line(site_lines(site, 120, in_full=False))
    assert brief.startswith(f"{site.name}: {site.joint} {site.motion}")
    assert f"{site.early_limit.text}" in brief
    assert f"{site.end_stage_goal.text} [{site.end_stage_goal.tag}]" in brief
    assert re.findall(r"\[([SMP])\]", brief) == [site.early_limit.tag, site.end_stage_goal.tag]
    full = one_line(site_lines(site, 120, in_full=True))
    assert len(re.findall(r"\[[SMP][\]:]", full)) == 4
    for value in (site.compressed_against, site.provocative_range, site.early_limit, site.end_stage_goal):
        assert value.tag == "P" or f"[{value.tag}: {value.source}]" in full


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("achilles insertion", "early limit dorsiflexion up to 0 deg (no dorsiflexion past neutral"),
        ("achilles midportion", "early limit usually none"),
        ("quadriceps", "flexion up to 90 deg, by the strictest custom 60 (less than 60 to 90 degrees) [P]"),
    ],
)
def test_the_angle_of_an_early_limit_is_said_with_its_direction(name, said):
    assert said in one_line(site_lines(tendon_site(name), 120, in_full=False))
