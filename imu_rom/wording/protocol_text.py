"""The published programmes as a list for people."""

from imu_rom.dose.plan import Plan
from imu_rom.wording.lines import wrapped

__all__ = ["protocol_lines"]


def protocol_lines(protocols: tuple[Plan, ...], width: int) -> list[str]:
    """List programmes: what each is and where it was published.

    Parameters
    ----------
    protocols : tuple of Plan
        Plans that name their programme.
    width : int
        Columns of the terminal.

    Returns
    -------
    list of str
        Two lines or more for each programme.
    """
    named = [(each.protocol, each) for each in protocols if each.protocol is not None]
    indent = max(len(protocol.name) for protocol, _ in named) + 2
    lines = []
    for protocol, plan in named:
        stages = "" if len(plan.stages) == 1 else f", {len(plan.stages)} stages"
        texts = (f"{plan.title} ({plan.tendon_site}{stages})", protocol.citation)
        for first, text in zip((protocol.name, ""), texts, strict=True):
            lines += wrapped(f"{first:<{indent}}", text, width)
    return lines
