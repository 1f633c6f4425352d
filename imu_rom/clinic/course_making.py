"""A patient's course summed up and its pages written; runs in a child process, from files to files."""

import hashlib
import json
from datetime import date, timedelta
from pathlib import Path

from imu_rom.clinic.work_order import MADE, SESSION_PAGES, CourseOrder, Outcome
from imu_rom.course.folder import Course, read_course
from imu_rom.course.of_session import place_in_course
from imu_rom.dose.attention_facts import attention_facts
from imu_rom.dose.weeks import follow_up
from imu_rom.errors import CourseError, ImuRomError
from imu_rom.exchange.kept_angle import read_result_folder
from imu_rom.exchange.plain_values import plain, rounded
from imu_rom.exchange.progress import progress_document, write_progress
from imu_rom.exchange.result import read_result
from imu_rom.report.charted import SCRIPT_GOES_HERE
from imu_rom.report.course_page import course_page, course_page_text
from imu_rom.report.page import page_content, page_text
from imu_rom.report.patient_page import patient_page, patient_page_bytes
from imu_rom.settings import Settings
from imu_rom.wording.cautions import stage_cautions
from imu_rom.wording.course_text import first_of_all

__all__ = ["COURSE", "LONGEST_QUIET_DAYS", "make_course"]

COURSE = "course"
LONGEST_QUIET_DAYS = 28
"""A course goes on for so long after its last recording or line of the diary (common practice, no source)."""


def make_course(folder: Path) -> Outcome:
    """Sum up a course, and write what came of it into the folder ``made``.

    Parameters
    ----------
    folder : Path
        The job's, with a `CourseOrder`.

    Returns
    -------
    Outcome
        An error that a person can mend is a code and a sentence.
    """
    try:
        return _made(folder, CourseOrder.read(folder), Settings())
    except ImuRomError as error:
        return Outcome("not-usable", str(error).replace(f"{folder}/", ""))


def _made(folder: Path, order: CourseOrder, settings: Settings) -> Outcome:
    made = folder / MADE
    made.mkdir()
    if order.last_result is not None:
        page = patient_page(read_result(folder / COURSE / order.last_result), order.language)
        (made / "patient.html").write_bytes(patient_page_bytes(page))
    course = read_course(folder / COURSE, settings)
    today = date.fromisoformat(order.today)
    last = today if course.last_day is None else min(today, course.last_day + timedelta(days=LONGEST_QUIET_DAYS))
    _session_pages(folder, made, order, course, settings)
    first = min((each.from_date for each in course.plans.plans if each.from_date is not None), default=last)
    if last < first:
        return Outcome("not-begun", f"The plan begins on {first}.")
    answer = follow_up(course.plans.plans, course.recorded, course.diary.entries, last, settings)
    document = progress_document(answer, course.reading, settings)
    content = write_progress(document, (*first_of_all(document.answer), *stage_cautions()))
    (made / "course.json").write_bytes(content)
    facts = attention_facts(answer, course.recorded)
    text = json.dumps(plain(rounded(facts)), ensure_ascii=False, allow_nan=False)
    (made / "attention.json").write_text(text, "utf-8")
    (made / "clinician.html").write_text(course_page_text(course_page(document), SCRIPT_GOES_HERE), "utf-8")
    return Outcome()


def _session_pages(folder: Path, made: Path, order: CourseOrder, course: Course, settings: Settings) -> None:
    """Make the reports of recent sessions that say something else within the course than before."""
    fingerprints: dict[str, str] = {}
    for recording_id, known in order.sessions.items():
        place = folder / COURSE / "results" / recording_id
        try:
            document = read_result(place / "result.json")
            within = place_in_course(course, document, settings, where="the course")
        except CourseError:
            # its own report says all that can be said
            continue
        values = [plain(within.answer), sorted(each.sha256 for each in (*document.inputs, *within.inputs))]
        text = json.dumps(values, allow_nan=False)
        fingerprint = hashlib.sha256(text.encode() + (place / "result.json").read_bytes()).hexdigest()
        if fingerprint == known:
            continue
        page = page_text(page_content(document, read_result_folder(place).traces, within), SCRIPT_GOES_HERE)
        (made / f"{recording_id}.html").write_text(page, "utf-8")
        fingerprints[recording_id] = fingerprint
    (made / SESSION_PAGES).write_text(json.dumps(fingerprints), "utf-8")
