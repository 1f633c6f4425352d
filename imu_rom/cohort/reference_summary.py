"""A cohort's repetitions against other measurements of the joint, over people."""

from collections.abc import Iterator
from typing import Any

from imu_rom.dose.agreement import clustered_agreement
from imu_rom.dose.clustered_means import share_of_people
from imu_rom.dose.cohort_summary import AnswerShares, ReferenceAgreement

__all__ = ["reference_agreement", "reference_answers"]

MEASURES = ("end_range_deg", "past_threshold_s")
QUESTIONS = ("reached", "within_limit")


def reference_agreement(references: Any) -> tuple[ReferenceAgreement, ...]:  # noqa: ANN401  a data frame
    """Work out limits of agreement over people.

    Parameters
    ----------
    references : pandas.DataFrame
        The cohort's table ``references``.

    Returns
    -------
    tuple of ReferenceAgreement
        Two a channel, of complete repetitions.
    """
    found = []
    for channel, rows in _channels(references):
        complete = rows[rows.complete]
        for measure in MEASURES:
            differences = (complete[measure] - complete[f"reference_{measure}"]).dropna()
            people = complete.participant[differences.index].fillna("no-participant").tolist()
            try:
                over_people = clustered_agreement(differences.tolist(), people)
            except ValueError as error:
                found.append(ReferenceAgreement(channel, measure, None, str(error)))
            else:
                found.append(ReferenceAgreement(channel, measure, over_people, ""))
    return tuple(found)


def _channels(references: Any) -> Iterator[tuple[str, Any]]:  # noqa: ANN401
    rows = references.assign(complete=references.complete.fillna(value=False).astype(bool))
    for channel, own in rows.groupby("channel"):
        yield str(channel), own


def reference_answers(references: Any) -> tuple[AnswerShares, ...]:  # noqa: ANN401
    """Count the sensors' answers by what the other measurement says.

    Parameters
    ----------
    references : pandas.DataFrame
        The cohort's table ``references``.

    Returns
    -------
    tuple of AnswerShares
        Where it says yes and where it says no, of each question and channel that was asked.
    """
    found = []
    for channel, rows in _channels(references):
        for question in QUESTIONS:
            asked = rows[rows.complete] if question == "reached" else rows
            asked = asked[asked[question].isin(["yes", "no", "undecided"]) & asked[f"reference_{question}"].notna()]
            for said in ("yes", "no"):
                own = asked[asked[f"reference_{question}"].astype(bool) == (said == "yes")]
                answers = [
                    (str(who or "no-participant"), answer)
                    for who, answer in zip(own.participant, own[question], strict=True)
                ]
                shares = {
                    word: share_of_people([(who, answer == word) for who, answer in answers])
                    for word in ("yes", "no", "undecided")
                }
                decided = [(who, answer == said) for who, answer in answers if answer != "undecided"]
                right = share_of_people(decided)
                if len(asked):
                    found.append(
                        AnswerShares(
                            channel=channel,
                            question=question,
                            by_reference=said,
                            yes=shares["yes"],
                            no=shares["no"],
                            undecided=shares["undecided"],
                            right_of_decided=right,
                        )
                    )
    return tuple(found)
