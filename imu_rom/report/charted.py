"""Pages with charts: their text, with drawings on paper, and around it the script that the plotly package carries."""

from collections.abc import Iterator, Mapping
from dataclasses import fields
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING

from imu_rom.errors import MissingExtraError
from imu_rom.report.rendering import own_text, rendered

if TYPE_CHECKING:
    from _typeshed import DataclassInstance

__all__ = ["SCRIPT_GOES_HERE", "blocks_of", "charted_text", "plotting_script"]

SCRIPT_GOES_HERE = "<!-- the plotting script goes here -->"


def charted_text(
    template: str,
    content: "DataclassInstance",
    style: str,
    script: str,
    plotting: str,
    drawn: Mapping[str, str] | None = None,
) -> str:
    """Write the text of a page with charts.

    Parameters
    ----------
    template : str
        Its file in the folder of templates.
    content : dataclass
        What it shows; the template has its fields by their names.
    style : str
        File of its own style, behind that of all pages.
    script : str
        Its own script.
    plotting : str
        What stands for the plotting script.
    drawn : mapping of str to str, optional
        Drawings by the id of their figure, as addresses; with them the page needs no script and has none.

    Returns
    -------
    str
        HTML.
    """
    values = {each.name: getattr(content, each.name) for each in fields(content)}
    own = {
        "style": own_text("page.css") + own_text(style),
        "plotting_script": plotting,
        "script": script,
    }
    return rendered(template, {**values, "drawn": drawn or {}}, plain=own)


def blocks_of(text: str) -> Iterator[bytes]:
    """Put the plotting script where a page's text has its place.

    Parameters
    ----------
    text : str
        Written with `SCRIPT_GOES_HERE` for the plotting script.

    Yields
    ------
    bytes
        UTF-8 text.

    Raises
    ------
    MissingExtraError
        The plotly package is not installed as it should be.
    """
    before, behind = text.split(SCRIPT_GOES_HERE)
    yield before.encode()
    yield plotting_script()
    yield behind.encode()


def plotting_script() -> bytes:
    """Read the script that the plotly package carries, as a file, because importing the package takes longer.

    Returns
    -------
    bytes
        The script.

    Raises
    ------
    MissingExtraError
        The plotly package is not installed as it should be.
    """
    spec = find_spec("plotly")
    places = [] if spec is None else list(spec.submodule_search_locations or [])
    for place in places:
        path = Path(place) / "package_data" / "plotly.min.js"
        if path.is_file():
            return path.read_bytes()
    raise MissingExtraError("the plotly package is not installed, or without its script", do="pip install plotly")
