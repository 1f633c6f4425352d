"""The people of a dataset: ``participants.tsv`` where there is one, else those whose recordings there are."""

import csv
import io
import json
from collections.abc import Mapping
from dataclasses import dataclass

from imu_rom.cohort.dataset import Dataset
from imu_rom.exchange.cohort_columns import participants_layout
from imu_rom.exchange.tidy_columns import TableLayout

__all__ = ["Participants", "read_participants"]

_ID = "participant_id"
_NOTHING = ("", "n/a")


@dataclass(frozen=True)
class Participants:
    """What ``participants.tsv`` says.

    Parameters
    ----------
    layout : TableLayout
        Of the table that goes out.
    listed : dict of str to dict of str to str or None
        Its cells by subject label and heading.
    has_file : bool
        False where there is none that can be read.
    """

    layout: TableLayout
    listed: dict[str, dict[str, str | None]]
    has_file: bool

    def row(self, participant: str | None, recordings: int, failed: int) -> Mapping[str, object]:
        """Make one person's row.

        Parameters
        ----------
        participant : str or None
            Subject label.
        recordings, failed : int
            Counts.

        Returns
        -------
        mapping
            By column.
        """
        cells = self.listed.get(participant or "", {})
        counts = {
            "participant": participant,
            "listed": participant in self.listed,
            "recordings": recordings,
            "analysed": recordings - failed,
            "failed": failed,
        }
        theirs = [each.name for each in self.layout.columns[len(counts) :]]
        return counts | {name: cells.get(name) for name in theirs}


def read_participants(dataset: Dataset) -> Participants:
    """Read ``participants.tsv`` and what ``participants.json`` says about its columns.

    Parameters
    ----------
    dataset : Dataset
        The dataset.

    Returns
    -------
    Participants
        Empty where there is no file, or it is no such table.
    """
    content = dataset.content("participants.tsv")
    text = "" if content is None else content.decode("utf-8-sig", errors="replace")
    rows = list(csv.DictReader(io.StringIO(text), delimiter="\t", quoting=csv.QUOTE_NONE, restkey=""))
    if not rows or _ID not in rows[0]:
        return Participants(participants_layout((), {}), {}, has_file=False)
    names = [name for name in rows[0] if name not in {_ID, ""}]
    layout = participants_layout(names, _meanings(dataset))
    theirs = [each.name for each in layout.columns[-len(names) :]] if names else []
    listed: dict[str, dict[str, str | None]] = {}
    for row in rows:
        label = (row[_ID] or "").removeprefix("sub-")
        cells = {ours: _cell(row.get(name)) for ours, name in zip(theirs, names, strict=True)}
        listed.setdefault(label, cells)
    return Participants(layout, listed, has_file=True)


def _cell(value: str | None) -> str | None:
    return None if value is None or value.strip() in _NOTHING else value.strip()


def _meanings(dataset: Dataset) -> dict[str, str]:
    try:
        content = json.loads(dataset.content("participants.json") or b"{}")
    except (ValueError, RecursionError):
        return {}
    described = content.items() if isinstance(content, dict) else ()
    return {
        name: each["Description"]
        for name, each in described
        if isinstance(each, dict) and isinstance(each.get("Description"), str)
    }
