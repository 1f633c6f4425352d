"""Give every reader of files whatever bytes may come, for five minutes or as long as asked for.

Run it by ``python tests/fuzz/readers.py``; ``--seconds`` says how long. With `atheris` installed (``pip install
atheris``; no test needs it) bytes are chosen by which lines of the package they reach; without it, samples are changed
by chance, and the program says so. A reader may refuse a file by an error of the package's own; anything else ends the
program with what was read.
"""

import argparse
import io
import os
import random
import subprocess
import sys
import tempfile
import time
import warnings
import zipfile
from pathlib import Path

try:
    import atheris
except ModuleNotFoundError:
    atheris = None

ROOT = Path(__file__).parents[2]
SAMPLES = ROOT / "sample_recordings"
MOTION = SAMPLES / "dataset" / "sub-P0008" / "motion"
BIDS = "sub-P0008_task-lunge_tracksys-imu"
ROWS = 400
ODD = (b"nan", b"-", b"1e999", b"\0", b"\xff\xfe", b'"', b"\t", b"\r", b"\n", b",,", b"\xe2\x80\xae", b"9" * 400)
MARKS = b"""{"recording_sha256": "%s", "marks": [{"action": "strike", "start_s": 1.0, "stop_s": 2.5,
 "reason": "none", "by": "a", "at": "2026-12-01T10:00:00+01:00"}]}""" % (b"0" * 64)
LARGEST = 100_000


def loaded():
    """Import what reads; as atheris looks into it."""
    from imu_rom.clinic.archives import ArchiveLimits, unpack
    from imu_rom.course.diary import read_diary
    from imu_rom.course.plans import read_plans
    from imu_rom.dose.plan_file import plan_from_bytes
    from imu_rom.errors import ImuRomError
    from imu_rom.exchange.marks import marks_from_bytes
    from imu_rom.exchange.result import parse_result
    from imu_rom.exchange.settings_file import read_settings
    from imu_rom.recording.model import InputFile
    from imu_rom.recording.reading import read_recording
    from imu_rom.settings import ReadingSettings

    settings = ReadingSettings()

    def put(folder, name, data):
        path = folder / name
        path.write_bytes(data)
        return path

    def triplet(which):
        def read(folder, data):
            for end in ("motion.tsv", "motion.json", "channels.tsv"):
                put(folder, f"{BIDS}_{end}", data if end == which else seeds()[f"bids {end}"])
            read_recording(folder / f"{BIDS}_motion.tsv", settings)

        return read

    def diary(folder, data):
        put(folder, "plan.toml", (SAMPLES / "course" / "plan.toml").read_bytes())
        read_diary(put(folder, "diary.csv", data), read_plans(folder))

    def archive(folder, data):
        (folder / "into").mkdir()
        unpack(put(folder, "a.zip", data), folder / "into", ArchiveLimits(8, 1.0, 50.0))

    readers = {
        "delimited": lambda folder, data: read_recording(put(folder, "a.csv", data), settings),
        "bids motion.tsv": triplet("motion.tsv"),
        "bids motion.json": triplet("motion.json"),
        "bids channels.tsv": triplet("channels.tsv"),
        "plan": lambda _, data: plan_from_bytes(data, "plan.toml"),
        "result": lambda _, data: parse_result(data, "result.json"),
        "marks": lambda _, data: marks_from_bytes(data, "marks.json", [InputFile("a.csv", "0" * 64)]),
        "settings": lambda folder, data: read_settings(put(folder, "settings.toml", data)),
        "diary": diary,
        "zip": archive,
    }
    return readers, ImuRomError


def _size(path):
    return path.stat().st_size


def seeds(made={}):  # noqa: B006  made once
    """A good file for each reader, cut short."""
    if made:
        return made
    rows = (MOTION / f"{BIDS}_motion.tsv").read_bytes().split(b"\n")[:ROWS]
    made |= {
        "bids motion.tsv": b"\n".join(rows) + b"\n",
        "bids motion.json": (MOTION / f"{BIDS}_motion.json").read_bytes(),
        "bids channels.tsv": (MOTION / f"{BIDS}_channels.tsv").read_bytes(),
        "plan": (SAMPLES / "plans" / "P-0008.toml").read_bytes(),
        "result": min((SAMPLES / "course" / "results").rglob("result.json"), key=_size).read_bytes(),
        "delimited": b"\n".join((SAMPLES / "checks" / "straight_edge.csv").read_bytes().split(b"\n")[:300]) + b"\n",
        "marks": MARKS,
        "settings": b"[angle]\nattitude_filter = 'vqf'\n",
        "diary": b"\n".join((SAMPLES / "course" / "diary.csv").read_bytes().split(b"\n")[:8]) + b"\n",
    }
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("a/b.csv", "1,2\n")
        archive.writestr("c.tsv", "1\t2\n")
    made["zip"] = packed.getvalue()
    return made


class Reading:
    """Bytes to readers: the first byte says which.

    Parameters
    ----------
    readers : dict of str to callable
        By name.
    allowed : type
        What a reader may raise.
    """

    def __init__(self, readers, allowed):
        self.until = None
        self.readers, self.allowed = readers, allowed
        self.names = sorted(readers)
        self.read = dict.fromkeys(self.names, 0)
        self.good = dict.fromkeys(self.names, 0)
        warnings.simplefilter("ignore")

    def __call__(self, data):
        if self.until is not None and time.monotonic() > self.until:
            # the fuzzer ends without letting anything be said afterwards
            print(f"By atheris: {self.told()}; nothing else than words.", flush=True)
            os._exit(0)
        if not data:
            return
        name = self.names[data[0] % len(self.names)]
        self.read[name] += 1
        with tempfile.TemporaryDirectory(dir="/dev/shm" if Path("/dev/shm").is_dir() else None) as folder:  # noqa: S108
            try:
                self.readers[name](Path(folder), data[1:])
                self.good[name] += 1
            except self.allowed:
                pass
            except BaseException:
                kept = Path(tempfile.gettempdir()) / "what-was-read"
                kept.write_bytes(data[1:])
                print(f"Reader of {name}; what it read is in {kept}.", file=sys.stderr)
                raise

    def told(self):
        return ", ".join(f"{name} {self.read[name]} ({self.good[name]} read)" for name in self.names)


def changed(data, chance):
    """Some bytes of a sample exchanged, doubled, cut out or put in."""
    content = bytearray(data)
    for _ in range(chance.randint(1, 6)):
        at = chance.randrange(len(content) + 1)
        length = chance.choice([1, 1, 2, 8, 60])
        what = chance.choice(["exchange", "cut", "double", "put"])
        if what == "exchange":
            content[at : at + length] = chance.randbytes(length)
        elif what == "cut":
            del content[at : at + length]
        elif what == "double":
            content[at:at] = content[at : at + length] * chance.choice([1, 2, 50])
        else:
            content[at:at] = chance.choice(ODD)
    return bytes(content[:LARGEST])


def by_chance(seconds, reading, seed):
    chance, until = random.Random(seed), time.monotonic() + seconds  # noqa: S311  no secret
    while time.monotonic() < until:
        number = chance.randrange(len(reading.names))
        reading(bytes([number]) + changed(seeds()[reading.names[number]], chance))
    print(f"By chance alone (seed {seed}), as atheris is not installed: {reading.told()}; nothing else than words.")


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seconds", type=int, default=300)
    parser.add_argument("--seed", type=int, default=time.time_ns() % 2**31)
    parser.add_argument("--by-chance", action="store_true", help="also where atheris is installed")
    parser.add_argument("--only", help="one reader; else each has its share of the time")
    asked = parser.parse_args()
    if atheris is None or asked.by_chance:
        by_chance(asked.seconds, Reading(*loaded()), asked.seed)
        return
    if asked.only is None:
        for name in (names := sorted(seeds())):
            words = [sys.executable, __file__, "--seconds", f"{asked.seconds // len(names)}", "--only", name]
            code = subprocess.run([*words, "--seed", str(asked.seed)], check=False).returncode
            if code:
                raise SystemExit(code)
        return
    with atheris.instrument_imports(include=["imu_rom"]):
        readers, allowed = loaded()
        reading = Reading({asked.only: readers[asked.only]}, allowed)
    with tempfile.TemporaryDirectory() as folder:
        for number, name in enumerate(reading.names):
            (Path(folder) / f"{number}").write_bytes(bytes([number]) + seeds()[name][:LARGEST])
        words = [sys.argv[0], folder, f"-max_total_time={asked.seconds + 60}", f"-max_len={LARGEST}", "-timeout=60"]
        words += [
            "-rss_limit_mb=2500",
            f"-seed={asked.seed}",
            "-verbosity=0",
            f"-artifact_prefix={tempfile.gettempdir()}/",
        ]
        atheris.Setup(words, reading)
        reading.until = time.monotonic() + asked.seconds
        atheris.Fuzz()


if __name__ == "__main__":
    main()
