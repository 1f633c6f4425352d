"""A cohort's summary as Markdown."""

from imu_rom.dose.cohort_summary import CohortSummary
from imu_rom.wording.cautions import CAUTION
from imu_rom.wording.markdown import as_text, table
from imu_rom.wording.summary_text import summary_sections

__all__ = ["summary_markdown"]


def summary_markdown(summary: CohortSummary) -> str:
    """Write the summary as Markdown.

    Parameters
    ----------
    summary : CohortSummary
        Rounded.

    Returns
    -------
    str
        Headings, sentences and tables; words of the dataset are escaped.
    """
    parts = ["# Summary of a cohort", CAUTION]
    for each in summary_sections(summary):
        parts.append(f"## {each.title}")
        parts.extend(as_text(sentence) for sentence in each.sentences)
        if each.rows:
            parts.append(table(each.headings, ([as_text(cell) for cell in row] for row in each.rows)))
    return "\n\n".join(parts) + "\n"
