"""A dataset in a notebook's way: analysed, drawn, and asked whether the time past the angle changes from set to set.

    python sample_recordings/example_study.py [DATASET PLANS OUT]

Writes OUT/time_past.html and prints the model. Needs ``pip install 'imu-rom[cohort]'``. Without words it takes the
sample dataset, whose people are invented: what the model says of them means nothing.
"""

import sys
import warnings
from pathlib import Path

import plotly.express as px
import statsmodels.formula.api as smf

from imu_rom import analyse_dataset

HERE = Path(__file__).parent


def main(dataset: Path, plans: Path, out: Path) -> None:
    """Analyse, draw, fit."""
    cohort = analyse_dataset(dataset, plans, out)
    sets = cohort.to_frame("sets").dropna(subset=["past_threshold_s"])

    # each set with its 95 % interval, which holds the zero that the whole session shares
    above = sets.past_threshold_high_s - sets.past_threshold_s
    below = sets.past_threshold_s - sets.past_threshold_low_s
    figure = px.scatter(
        sets.assign(above_s=above, below_s=below),
        x="participant",
        y="past_threshold_s",
        color="verdict",
        error_y="above_s",
        error_y_minus="below_s",
        hover_data=["session", "set"],
        labels={"past_threshold_s": sets.attrs["meanings"]["past_threshold_s"] + ", s"},
    )
    figure.write_html(out / "time_past.html", include_plotlyjs=True)

    # sets of a person are alike: a random intercept for each, else the interval of the slope is too narrow
    rows = sets.assign(number=sets.set.astype(float))[["participant", "number", "past_threshold_s"]]
    with warnings.catch_warnings():
        # few invented people: the fit may lie at the edge of what is possible, and says so
        warnings.simplefilter("ignore")
        fitted = smf.mixedlm("past_threshold_s ~ number", rows, groups=rows.participant).fit()
    low_s, high_s = fitted.conf_int().loc["number"]
    change_s = fitted.params["number"]
    print(f"{len(rows)} sets of {rows.participant.nunique()} people")
    print(f"change from one set to the next: {change_s:.1f} s (95 % interval {low_s:.1f} to {high_s:.1f})")


if __name__ == "__main__":
    given = [Path(each) for each in sys.argv[1:]]
    main(*given) if given else main(HERE / "dataset", HERE / "plans", Path("study"))
