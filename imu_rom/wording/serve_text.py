"""What the owner reads when the clinic's service starts and stops."""

__all__ = ["listening", "next_step", "stopped", "worker_ended"]


def listening(address: str, public_url: str, *, works: bool) -> list[str]:
    """Say where the service is.

    Parameters
    ----------
    address : str
        Where it listens.
    public_url : str
        Where people reach it.
    works : bool
        Whether a worker runs with it.

    Returns
    -------
    list of str
        Sentences.
    """
    at = public_url if public_url.startswith("https:") else address
    lines = [f"Open {at} in a browser. Ctrl-C stops the service."]
    if at != address:
        lines.append(f"It listens at {address}; a proxy must lead {public_url} there.")
    elif public_url != address:
        lines.append(f"Links for people begin with {public_url}: set IMU_ROM_PUBLIC_URL={address} to change that.")
    if not works:
        lines.append("No worker runs with it: recordings wait until imu-rom clinic work runs.")
    return lines


def next_step(*, clinics: int, phones: int, clinicians: int) -> str:
    """Say what is missing before people can use the service.

    Parameters
    ----------
    clinics : int
        How many there are.
    phones : int
        How many of them have a phone number.
    clinicians : int
        How many people can sign in as clinicians, or are invited.

    Returns
    -------
    str
        A sentence; empty where nothing is missing.
    """
    if clinics == 0:
        return "There is no clinic yet: run imu-rom clinic init --name 'Name of the clinic' --phone NUMBER."
    if phones == 0:
        return "Nobody can be invited yet: run imu-rom clinic init --name 'Name of the clinic' --phone NUMBER."
    if clinicians == 0:
        return "There is no clinician yet: run imu-rom clinic add-clinician NAME, and open the link that it prints."
    return ""


def worker_ended(code: int) -> str:
    """Say that the worker ended by itself.

    Parameters
    ----------
    code : int
        Its exit code.

    Returns
    -------
    str
        A sentence.
    """
    return f"The worker ended (code {code}) and is started again; no recording is lost by that."


def stopped() -> str:
    """Say that the service has stopped.

    Returns
    -------
    str
        A sentence.
    """
    return "Stopped; whatever was waiting goes on at the next start."
