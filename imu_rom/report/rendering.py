"""From our own templates and a page's content to its text; everything that is not ours is escaped."""

import re
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from jinja2 import Environment

__all__ = ["compile_templates", "own_text", "rendered"]

ISO_DATE = re.compile(r"\b\d{4}-\d{2}-\d{2}\b")
FOLDER = Path(__file__).with_name("templates")


def own_text(name: str) -> str:
    """Read one of our own files: style or script.

    Parameters
    ----------
    name : str
        File in the folder of templates.

    Returns
    -------
    str
        Its content.
    """
    return (FOLDER / name).read_text(encoding="utf-8")


@cache
def _environment() -> "Environment":
    """Our templates; compiled ones are kept: to compile them takes longer than to fill them in."""
    from jinja2 import Environment, FileSystemLoader, StrictUndefined  # noqa: PLC0415  only who writes a page needs it
    from markupsafe import Markup, escape  # noqa: PLC0415

    environment = Environment(
        loader=FileSystemLoader(FOLDER),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["whole_dates"] = lambda text: Markup(  # noqa: S704  escaped before our own tags are put in
        ISO_DATE.sub(r'<span class="date">\g<0></span>', str(escape(text)))
    )
    return environment


def compile_templates() -> None:
    """Compile all templates before the first page is asked for, for a process that makes many."""
    for name in _environment().list_templates(extensions=["html"]):
        _environment().get_template(name)


def rendered(template: str, values: Mapping[str, object], plain: Mapping[str, str] | None = None) -> str:
    """Fill a template.

    Parameters
    ----------
    template : str
        File in the folder of templates.
    values : mapping
        What the page shows; all text in it is escaped, and a name that is missing is an error.
    plain : mapping of str to str, optional
        Our own text that goes in as it is; the style always does, and that for paper.

    Returns
    -------
    str
        The page.
    """
    from markupsafe import Markup  # noqa: PLC0415  only who writes a page needs it

    given = {"style": own_text("page.css"), "paper": own_text("print.css"), **(plain or {})}
    if "plotting_script" in given:
        given["script"] += own_text("print.js")
    own = {name: Markup(text) for name, text in given.items()}  # noqa: S704
    return _environment().get_template(template).render(**values, **own)
