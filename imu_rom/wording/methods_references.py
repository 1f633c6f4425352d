"""The works that a methods text cites, numbered in the order in which it cites them."""

__all__ = ["WORKS", "References"]

WORKS = {
    "filter": "D. Laidig, T. Seel, VQF: highly accurate IMU orientation estimation with bias estimation and magnetic "
    "disturbance rejection, Information Fusion 91:187-204, 2023, doi:10.1016/j.inffus.2022.10.014",
    "axis": "T. Seel, T. Schauer, J. Raisch, Joint axis and position estimation from inertial measurement data by "
    "exploiting kinematic constraints, IEEE International Conference on Control Applications, 2012, "
    "doi:10.1109/CCA.2012.6402423",
    "centre": "T. Seel, J. Raisch, T. Schauer, IMU-based joint angle measurement for gait analysis, Sensors "
    "14:6891-6909, 2014, doi:10.3390/s140406891",
    "parabola": "A. Savitzky, M. Golay, Smoothing and differentiation of data by simplified least squares procedures, "
    "Analytical Chemistry 36:1627-1639, 1964, doi:10.1021/ac60214a047",
    "budget": "JCGM 100:2008, Evaluation of measurement data: guide to the expression of uncertainty in measurement",
    "propagation": "JCGM 101:2008, Propagation of distributions using a Monte Carlo method",
    "conformity": "JCGM 106:2012, The role of measurement uncertainty in conformity assessment, "
    "doi:10.59161/JCGM106-2012",
    "compression": "J. Cook, C. Purdam, Is compressive load a factor in the development of tendinopathy?, Br J Sports "
    "Med 46:163-168, 2012, doi:10.1136/bjsports-2011-090414",
    "cert": "S. Slade, C. Dionne, M. Underwood, R. Buchbinder, Consensus on Exercise Reporting Template (CERT): "
    "explanation and elaboration statement, Br J Sports Med 50:1428-1437, 2016, doi:10.1136/bjsports-2016-096651",
    "tidier": "T. Hoffmann et al., Better reporting of interventions: template for intervention description and "
    "replication (TIDieR) checklist and guide, BMJ 348:g1687, 2014, doi:10.1136/bmj.g1687",
}
"""By the key that texts cite them by. Titles and pages partly from memory; the numbers (doi) were seen."""


class References:
    """Numbers for the works of one text."""

    def __init__(self) -> None:
        self._keys: list[str] = []

    def cite(self, key: str) -> str:
        """Give a work's number in brackets.

        Parameters
        ----------
        key : str
            A key of `WORKS`.

        Returns
        -------
        str
            Such as ``"[2]"``.
        """
        if key not in self._keys:
            self._keys.append(key)
        return f"[{self._keys.index(key) + 1}]"

    def listed(self) -> str:
        """List the works that were cited.

        Returns
        -------
        str
            A numbered Markdown list.
        """
        return "\n".join(f"{number}. {WORKS[key]}" for number, key in enumerate(self._keys, start=1))
