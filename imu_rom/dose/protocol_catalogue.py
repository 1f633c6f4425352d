"""Published doses that come with the package: their names, and each as a plan that is nobody's yet."""

from importlib.resources import files

from imu_rom.dose.plan import Plan
from imu_rom.dose.plan_fault import nearest
from imu_rom.dose.plan_file import plan_from_bytes
from imu_rom.errors import PlanError

__all__ = ["protocol_bytes", "protocol_names", "read_protocol"]

_ENDING = ".toml"


def protocol_names() -> tuple[str, ...]:
    """List the programmes that come with the package.

    Returns
    -------
    tuple of str
        Names in alphabetical order: first author and year, or plain words.
    """
    folder = files("imu_rom.dose.protocols")
    return tuple(sorted(each.name.removesuffix(_ENDING) for each in folder.iterdir() if each.name.endswith(_ENDING)))


def protocol_bytes(name: str) -> bytes:
    """Read a programme's file.

    Parameters
    ----------
    name : str
        One of `protocol_names`.

    Returns
    -------
    bytes
        A commented plan file without person and dates, for the left side.

    Raises
    ------
    PlanError
        No such programme comes with the package; the sentence lists those that do.
    """
    names = protocol_names()
    if name not in names:
        raise PlanError(f"protocol must be one of {', '.join(names)}, got {name!r}", do=nearest(name, names))
    return files("imu_rom.dose.protocols").joinpath(f"{name}{_ENDING}").read_bytes()


def read_protocol(name: str) -> Plan:
    """Read a programme as a plan.

    Parameters
    ----------
    name : str
        One of `protocol_names`.

    Returns
    -------
    Plan
        For the left side, without person and dates. Windows given as shares of the own range have no angles.

    Raises
    ------
    PlanError
        As `protocol_bytes`.
    """
    return plan_from_bytes(protocol_bytes(name), f"{name}{_ENDING}", published=True)
