"""The files that make a folder a BIDS dataset: its description, README and participants.

References
----------
Brain Imaging Data Structure specification 1.10, "Agnostic files".
"""

import json
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Literal

__all__ = [
    "BIDS_VERSION",
    "as_json",
    "as_rows",
    "write_dataset_description",
    "write_participants",
    "write_readme",
]

BIDS_VERSION = "1.10.0"


def as_rows(rows: Iterable[Sequence[str]]) -> str:
    """Write rows as BIDS tables have them.

    Parameters
    ----------
    rows : iterable of sequence of str
        Header and rows; an empty cell is written as ``n/a``.

    Returns
    -------
    str
        Tab-separated text.
    """
    return "".join("\t".join(cell or "n/a" for cell in row) + "\n" for row in rows)


def as_json(content: Mapping[str, object]) -> str:
    """Write a sidecar's content.

    Parameters
    ----------
    content : mapping
        What it says.

    Returns
    -------
    str
        JSON text.
    """
    return json.dumps(content, indent=2, ensure_ascii=False) + "\n"


def write_dataset_description(
    folder: Path,
    *,
    name: str,
    authors: Sequence[str] = (),
    license_name: str = "CC0",
    acknowledgements: str = "",
    generated_by: Mapping[str, str] | None = None,
    dataset_type: Literal["raw", "derivative", "study"] = "raw",
) -> Path:
    """Write ``dataset_description.json``.

    Parameters
    ----------
    folder : Path
        The dataset's folder; made where it is missing.
    name : str
        Name of the dataset.
    authors : sequence of str
        Who made it.
    license_name : str, optional
        Licence of the data; empty: none is named.
    acknowledgements : str, optional
        Free text, such as that the data are invented.
    generated_by : mapping of str to str or None
        ``Name``, ``Version`` and ``Description`` of the program that made the data.
    dataset_type : {"raw", "derivative", "study"}
        What the folder is.

    Returns
    -------
    Path
        The file.
    """
    content: dict[str, object] = {
        "Name": name,
        "BIDSVersion": BIDS_VERSION,
        "DatasetType": dataset_type,
    }
    if license_name:
        content["License"] = license_name
    if authors:
        content["Authors"] = list(authors)
    if acknowledgements:
        content["Acknowledgements"] = acknowledgements
    if generated_by:
        content["GeneratedBy"] = [dict(generated_by)]
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / "dataset_description.json"
    path.write_text(as_json(content), "utf-8")
    return path


def write_readme(folder: Path, text: str) -> Path:
    """Write the dataset's README.

    Parameters
    ----------
    folder : Path
        The dataset's folder.
    text : str
        What the data are and where they come from.

    Returns
    -------
    Path
        The file.
    """
    path = folder / "README.md"
    path.write_text(text.rstrip("\n") + "\n", "utf-8")
    return path


def write_participants(
    folder: Path, rows: Sequence[Mapping[str, str]], descriptions: Mapping[str, str] | None = None
) -> Path:
    """Write ``participants.tsv`` and its sidecar.

    Parameters
    ----------
    folder : Path
        The dataset's folder.
    rows : sequence of mapping of str to str
        One row a person, each with ``participant_id`` (``sub-`` and the label) and any other columns.
    descriptions : mapping of str to str or None
        Meaning of the other columns.

    Returns
    -------
    Path
        The ``participants.tsv``.
    """
    others = list(dict.fromkeys(key for row in rows for key in row if key != "participant_id"))
    names = ["participant_id", *others]
    path = folder / "participants.tsv"
    path.write_text(as_rows([names, *([row.get(name, "") for name in names] for row in rows)]), "utf-8")
    meanings = {name: {"Description": (descriptions or {}).get(name, name)} for name in others}
    if meanings:
        path.with_suffix(".json").write_text(as_json(meanings), "utf-8")
    return path
