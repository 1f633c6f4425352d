"""Joints with their motions, and tendon sites with what compresses them, as lines for a terminal."""

from imu_rom.dose.sites import TAGS, TaggedText, TendonSite
from imu_rom.motion.joint_model import Joint, Motion, Vector
from imu_rom.wording.lines import labelled, wrapped

__all__ = ["joint_lines", "joints_heading", "site_lines", "sites_heading", "tag_lines"]

INDENT = "  "
LABEL = 16


def joints_heading(width: int) -> list[str]:
    """Say what the list of joints shows.

    Parameters
    ----------
    width : int
        Columns of the terminal; fewer than 60 count as 60.

    Returns
    -------
    list of str
        Lines no longer than the width.
    """
    return wrapped(
        "",
        "Joints. An angle counts from the zero pose and is positive in the motion that it is named by. The range is "
        "what a living joint can take, no norm: a plan that goes beyond it is refused.",
        width,
    )


def sites_heading(width: int) -> list[str]:
    """Say what the list of tendon sites shows.

    Parameters
    ----------
    width : int
        Columns of the terminal; fewer than 60 count as 60.

    Returns
    -------
    list of str
        Lines no longer than the width.
    """
    return wrapped(
        "",
        "Tendon sites, each with the motion that compresses it and what is customary, for a clinician to edit. The "
        "letter behind a value says how well it is known.",
        width,
    )


def joint_lines(joint: Joint, width: int, *, in_full: bool) -> list[str]:
    """Describe a joint: its zero, and each motion with its possible range and what moves where.

    Parameters
    ----------
    joint : Joint
        The joint.
    width : int
        Columns of the terminal; fewer than 60 count as 60.
    in_full : bool
        True: with axes, sequence, ill-defined poses and sources too.

    Returns
    -------
    list of str
        Lines no longer than the width.
    """
    lines = [f"{joint.name}: {joint.distal_segment} against {joint.proximal_segment}"]
    lines += _labelled("zero", joint.zero, width)
    names = max(len(motion.name) for motion in joint.motions)
    ranges = max(len(_range(motion)) for motion in joint.motions)
    for motion in joint.motions:
        start = f"{INDENT}{motion.name.ljust(names)}  {_range(motion).rjust(ranges)}  "
        lines += wrapped(start, motion.in_words, width)
    return lines + _in_full(joint, width) if in_full else lines


def _in_full(joint: Joint, width: int) -> list[str]:
    lines = [
        *_labelled("frames", f"{joint.frames}, in the zero pose", width),
        *_labelled("sequence", f"{_sequence(joint.sequence)} ({joint.source})", width),
        *_labelled("turns about", _axes(joint.degrees_of_freedom), width),
    ]
    for label, what in (
        ("right axis", [_components(motion.axis("right")) for motion in joint.motions]),
        ("left axis", [_components(motion.axis("left")) for motion in joint.motions]),
        ("read off by", [motion.reading for motion in joint.motions]),
        ("range from", [motion.possible_range_source for motion in joint.motions]),
    ):
        for text in dict.fromkeys(what):
            words = [motion.name for motion, each in zip(joint.motions, what, strict=True) if each == text]
            lines += _labelled(label, f"{', '.join(words)}: {text}", width)
            label = ""  # noqa: PLW2901 - said once
    return lines + _labelled("ill-defined", joint.gimbal_zone, width)


def site_lines(site: TendonSite, width: int, *, in_full: bool) -> list[str]:
    """Describe a tendon site: what compresses it, the customary early limit and the end-stage goal.

    Parameters
    ----------
    site : TendonSite
        The site.
    width : int
        Columns of the terminal; fewer than 60 count as 60.
    in_full : bool
        True: with what the tendon is pressed on, where that is felt, and the source of each value.

    Returns
    -------
    list of str
        Lines no longer than the width; behind each value its tag in brackets.
    """
    together = f"; more so with {site.together_with}" if site.together_with else ""
    lines = wrapped(f"{site.name}: ", f"{site.joint} {site.motion}{together}", width, hang=2 * len(INDENT))
    if in_full:
        lines += _labelled("pressed on", f"{site.compressed_against.text} {_source(site.compressed_against)}", width)
        lines += _labelled("where felt", f"{site.provocative_range.text} {_source(site.provocative_range)}", width)
    for label, value, text in (
        ("early limit", site.early_limit, _limit(site)),
        ("end stage", site.end_stage_goal, site.end_stage_goal.text),
    ):
        lines += _labelled(label, f"{text} {_source(value) if in_full else f'[{value.tag}]'}", width)
    return lines


def tag_lines() -> list[str]:
    """Explain the letters behind the values.

    Returns
    -------
    list of str
        One line a letter.
    """
    return [f"[{tag}] {meaning}" for tag, meaning in TAGS.items()]


def _limit(site: TendonSite) -> str:
    if site.early_limit_deg is None:
        return site.early_limit.text
    low, high = site.early_limit_deg
    strictest = "" if low == high else f", by the strictest custom {low:g}"
    return f"{site.motion} up to {high:g} deg{strictest} ({site.early_limit.text})"


def _source(value: TaggedText) -> str:
    return f"[{value.tag}]" if value.tag == "P" else f"[{value.tag}: {value.source}]"


def _components(axis: Vector) -> str:
    return ", ".join(
        f"{each:g} {name}" for each, name in zip((round(each, 3) for each in axis), "XYZ", strict=True) if each
    )


def _range(motion: Motion) -> str:
    low, high = motion.possible_range_deg
    return f"{low:g} to {high:g} deg"


def _sequence(letters: str) -> str:
    return "-".join(letter.lower() + "'" * index for index, letter in enumerate(letters))


def _axes(degrees_of_freedom: int) -> str:
    return {
        1: "one axis in its usual exercises, like a hinge",
        2: "two axes in its usual exercises",
        3: "three axes in its usual exercises, like a ball",
    }[degrees_of_freedom]


def _labelled(label: str, text: str, width: int) -> list[str]:
    return labelled(label, text, width, indent=len(INDENT), column=LABEL)
