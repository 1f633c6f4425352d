"""A cohort's folder with tables of exactly known content, made without any recording."""

import json
from dataclasses import dataclass, field

from imu_rom.exchange.cohort_columns import (
    COHORT_LAYOUTS,
    COHORT_REPETITIONS,
    COHORT_SESSIONS,
    COHORT_SETS,
    EXPOSURE_CURVES,
    FAILURES,
    REFERENCES,
    participants_layout,
)
from imu_rom.exchange.data_dictionary import dictionary_json
from imu_rom.exchange.table_parts import TablePart

THRESHOLD_DEG = 4.0
TOP_DEG = 24.0


@dataclass
class Made:
    """One session; its time past an angle falls evenly to nought at 24 degrees."""

    participant: str
    session: str
    past_s: float
    day: str | None = "2026-12-01"
    end_range_deg: float = 10.0
    side: str = "left"
    exercise: str = "drop"
    repetitions: int = 10
    undecided: int = 0
    u_shared_deg: float = 2.0
    findings: str | None = None
    unseen_s: float = 0.0
    references: list[dict] = field(default_factory=list)


def past_of(past_s, angle_deg):
    """Time past any angle from -16 to 24 degrees."""
    return past_s * (TOP_DEG - angle_deg) / (TOP_DEG - THRESHOLD_DEG)


def make_cohort(folder, sessions, *, participants=None, studies=({"plan": "p.toml", "declared": None},), failures=()):
    folder.mkdir()
    head = {"format": "imu-rom cohort", "schema_version": 1, "plans": [{"name": "p.toml", "sha256": "00"}]}
    (folder / "cohort.json").write_text(json.dumps({**head, "studies": list(studies)}))
    tables = folder / "tables"
    tables.mkdir()
    for layout in COHORT_LAYOUTS:
        (tables / layout.name).mkdir()
    names = sorted({each.participant for each in sessions} | set(participants or ()))
    for who in names:
        own = [each for each in sessions if each.participant == who]
        if own:
            write_participant(tables, who, own)
    columns = sorted({key for each in (participants or {}).values() for key in each})
    layout = participants_layout(columns, {})
    with TablePart(tables / "participants", layout, "csv") as part:
        for who in names:
            number = len({each.session for each in sessions if each.participant == who})
            failed = len([each for each in failures if each["participant"] == who])
            counts = {"listed": True, "recordings": number + failed, "analysed": number, "failed": failed}
            theirs = (participants or {}).get(who, {})
            part.add([{"participant": who, **counts, **{name: theirs.get(name) for name in columns}}])
    with TablePart(tables / "failures", FAILURES, "csv") as part:
        part.add(failures)
    (tables / "dictionary.json").write_bytes(dictionary_json((layout, *COHORT_LAYOUTS, FAILURES), "csv"))
    return folder


def write_participant(tables, who, sessions):
    rows = {layout.name: [] for layout in COHORT_LAYOUTS}
    for each in sessions:
        whose = {
            "participant": who,
            "session": each.session,
            "part": 1,
            "exercise": each.exercise,
            "side": each.side,
            "set": 1,
        }
        rows["sessions"].append(
            whose
            | {
                "recorded_at": None if each.day is None else f"{each.day}T18:00:00+01:00",
                "prescribed_repetitions": 10,
                "compression_threshold_deg": THRESHOLD_DEG,
                "u_shared_deg": each.u_shared_deg,
                "findings": each.findings,
            }
        )
        rows["sets"].append(whose | {"start_s": 100.0, "stop_s": 200.0})
        for number in range(each.repetitions):
            reached = "undecided" if number < each.undecided else "yes"
            rows["repetitions"].append(
                whose
                | {"repetition": number + 1, "complete": True, "end_range_deg": each.end_range_deg, "reached": reached}
            )
        for step in range(-160, 241):
            rows["exposure_curves"].append(
                whose
                | {
                    "angle_deg": step / 10,
                    "time_past_s": past_of(each.past_s, step / 10),
                    "unseen_s": each.unseen_s,
                }
            )
        rows["references"] += [whose | {"repetition": n} | one for n, one in enumerate(each.references, start=1)]
    layouts = {
        each.name: each for each in (COHORT_SESSIONS, COHORT_SETS, COHORT_REPETITIONS, EXPOSURE_CURVES, REFERENCES)
    }
    for name, layout in layouts.items():
        if rows[name]:
            with TablePart(tables / name / f"sub-{who}", layout, "csv") as part:
                part.add([{column: row.get(column) for column in layout.names} for row in rows[name]])
