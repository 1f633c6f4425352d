"""What the owner of a clinic's service reads after a backup, a check or a purge."""

from collections.abc import Sequence

__all__ = ["backed_up", "checked", "purged", "reanalysed", "restored"]


def backed_up(folder: str, rows: int, files: int, file_bytes: int, *, encrypted: bool) -> list[str]:
    """Say what a backup holds, and what it lacks.

    Parameters
    ----------
    folder : str
        Where it is.
    rows, files, file_bytes : int
        What is in it.
    encrypted : bool
        Whether the files need a key.

    Returns
    -------
    list of str
        Sentences.
    """
    key = " The stored files in it need the encryption key, which is not in it either." if encrypted else ""
    return [
        f"{folder} holds {_amount(rows, files, file_bytes)}.",
        f"The secret is not in it: keep secret.key elsewhere.{key}",
        "The rows name people, and the recordings are theirs: keep the backup as safe as the service.",
    ]


def restored(rows: int, files: int, file_bytes: int, *, same_secret: bool) -> list[str]:
    """Say what was restored, and what doesn't go on as before.

    Parameters
    ----------
    rows, files, file_bytes : int
        What came back.
    same_secret : bool
        Whether the service has the secret that it had.

    Returns
    -------
    list of str
        Sentences.
    """
    lines = [f"Restored {_amount(rows, files, file_bytes)}."]
    if not same_secret:
        lines.append(
            "The secret is another than it was: clinicians with a second factor can't sign in before the old "
            "secret.key is put back, or imu-rom clinic invite --without-second-factor is used."
        )
    lines.append("Check it by imu-rom clinic check.")
    return lines


def checked(problems: Sequence[str], notes: Sequence[str], files: int, file_bytes: int, last: str) -> list[str]:
    """Say what a check found.

    Parameters
    ----------
    problems, notes : sequence of str
        Without a capital at the beginning and a full stop at the end.
    files, file_bytes : int
        What was read whole.
    last : str
        The trail's last entry, as number and hash.

    Returns
    -------
    list of str
        Sentences.
    """
    lines = [f"Problem: {each}." for each in problems] + [f"Note: {each}." for each in notes]
    if not problems:
        lines.append(f"All is whole: the trail, the rows and {_number(files, 'stored file')} ({_size(file_bytes)}).")
        lines.append(f"Note this elsewhere for the next check (--noted): {last}")
    return lines


def purged(patients: int, recordings: int, files: int, waiting: int) -> list[str]:
    """Say what a purge removed.

    Parameters
    ----------
    patients, recordings, files : int
        How many went.
    waiting : int
        Patients who asked, and whose time is not over.

    Returns
    -------
    list of str
        Sentences.
    """
    went = f"{_number(patients, 'patient')}, {_number(recordings, 'withdrawn recording')}"
    lines = [f"Removed {went} and {_number(files, 'stored file')}."]
    if waiting:
        asked = "1 patient who asked for deletion is" if waiting == 1 else f"{waiting} patients who asked for it are"
        lines.append(f"{asked} still here: the retention period is not over, or none is set.")
    return lines


def reanalysed(asked: int) -> str:
    """Say how many sessions are analysed anew.

    Parameters
    ----------
    asked : int
        How many.

    Returns
    -------
    str
        A sentence.
    """
    if not asked:
        return "Nothing is to be analysed anew."
    verb = "is" if asked == 1 else "are"
    return f"{_number(asked, 'session')} {verb} analysed anew, after all that comes in; earlier results stay."


def _amount(rows: int, files: int, file_bytes: int) -> str:
    return f"{_number(rows, 'row')} and {_number(files, 'stored file')} ({_size(file_bytes)})"


def _number(count: int, what: str) -> str:
    return f"{count} {what}" if count == 1 else f"{count} {what}s"


def _size(count: int) -> str:
    return f"{count / 1e6:.1f} MB"
