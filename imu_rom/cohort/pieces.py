"""Finished recordings on disk, one file each, so that a run that was stopped goes on where it was.

A piece is named by the recording and by the fingerprint of all that it depends on, so that a changed file, plan,
setting or version is a piece that is not there. It is written whole or not at all.
"""

import hashlib
import json
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from imu_rom.cohort.one_recording import Done
from imu_rom.exchange.folder import whole_file

__all__ = ["Piece", "Pieces"]

# tried again the next time: what it depends on is not known, or lies outside of it
AGAIN = "again"
FAILED = ".failed.json"
WHOLE = ".json"


@dataclass(frozen=True)
class Piece:
    """A finished recording.

    Parameters
    ----------
    path : Path
        Its file.
    """

    path: Path

    @property
    def key(self) -> str:
        """Fingerprint of all that it depends on."""
        return self.path.name.split(".")[0].split("-")[1]

    @property
    def has_failed(self) -> bool:
        """True where the recording can't be used."""
        return self.path.name.endswith(FAILED)

    def read(self) -> dict[str, Any]:
        """Read what it says.

        Returns
        -------
        dict
            As `imu_rom.cohort.one_recording` wrote it.
        """
        content: dict[str, Any] = json.loads(self.path.read_bytes())
        return content


class Pieces:
    """The folder of finished recordings.

    Parameters
    ----------
    folder : Path
        Made where it is missing; leftovers of a run that was killed are removed.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        folder.mkdir(exist_ok=True)
        self._by_place: dict[str, dict[str, Piece]] = {}
        for path in folder.iterdir():
            if path.name.startswith("."):
                path.unlink()
            elif path.name.endswith(WHOLE):
                piece = Piece(path)
                self._by_place.setdefault(path.name.split("-")[0], {})[piece.key] = piece

    def keys(self, place: str) -> tuple[str, ...]:
        """Tell for which states of a recording there is a piece.

        Parameters
        ----------
        place : str
            The recording within the dataset.

        Returns
        -------
        tuple of str
            Keys; those that are to be tried again are not among them.
        """
        return tuple(sorted(key for key in self._by_place.get(_digest(place), {}) if key != AGAIN))

    def of(self, place: str) -> Piece:
        """Give a recording's piece.

        Parameters
        ----------
        place : str
            The recording within the dataset, after it was taken in.

        Returns
        -------
        Piece
            The one.
        """
        (piece,) = self._by_place[_digest(place)].values()
        return piece

    def take(self, done: Done, *, known: tuple[str, ...] = ()) -> Piece:
        """Keep what came of a recording, in the place of what was there before.

        Parameters
        ----------
        done : Done
            What came of it.
        known : tuple of str
            Keys that the one who worked on it was told.

        Returns
        -------
        Piece
            The one that is true now.

        Raises
        ------
        OutputError
            It can't be written.
        """
        digest = _digest(done.place)
        pieces = self._by_place.setdefault(digest, {})
        key = AGAIN if done.key is None else done.key
        if done.piece is None:
            if key not in known:
                raise ValueError("nothing was done, and nothing was there")
            piece = pieces[key]
        else:
            path = self.folder / f"{digest}-{key}{FAILED if done.code else WHOLE}"
            whole_file(path, [done.piece], replaces=done.piece[:8])
            piece = Piece(path)
        for each in pieces.values():
            if each.path != piece.path:
                each.path.unlink(missing_ok=True)
        self._by_place[digest] = {key: piece}
        return piece

    def keep_only(self, places: Iterable[str]) -> None:
        """Remove the pieces of recordings that are no longer there.

        Parameters
        ----------
        places : iterable of str
            Recordings of the dataset.
        """
        for digest in set(self._by_place) - {_digest(each) for each in places}:
            for each in self._by_place.pop(digest).values():
                each.path.unlink(missing_ok=True)


def _digest(place: str) -> str:
    return hashlib.sha256(place.encode("utf-8", errors="surrogateescape")).hexdigest()[:24]
