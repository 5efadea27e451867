"""Gauge repeatability and reproducibility, against the manual's worked example."""

from collections.abc import Callable

from brewhygiene.science.agreement.repeating import gauge_study

Published = Callable[..., None]

GRR = "AIAG, Measurement Systems Analysis, 4th ed. (2010), ch. III, GRR example, ANOVA (read)"
GRR_COMPUTED = f"{GRR}; p and ndc computed with NumPy from the same data"

# Ten parts, three trials each, by three appraisers.
GAUGE = {
    "A": [
        [0.29, 0.41, 0.64],
        [-0.56, -0.68, -0.58],
        [1.34, 1.17, 1.27],
        [0.47, 0.5, 0.64],
        [-0.8, -0.92, -0.84],
        [0.02, -0.11, -0.21],
        [0.59, 0.75, 0.66],
        [-0.31, -0.2, -0.17],
        [2.26, 1.99, 2.01],
        [-1.36, -1.25, -1.31],
    ],
    "B": [
        [0.08, 0.25, 0.07],
        [-0.47, -1.22, -0.68],
        [1.19, 0.94, 1.34],
        [0.01, 1.03, 0.2],
        [-0.56, -1.2, -1.28],
        [-0.2, 0.22, 0.06],
        [0.47, 0.55, 0.83],
        [-0.63, 0.08, -0.34],
        [1.8, 2.12, 2.19],
        [-1.68, -1.62, -1.5],
    ],
    "C": [
        [0.04, -0.11, -0.15],
        [-1.38, -1.13, -0.96],
        [0.88, 1.09, 0.67],
        [0.14, 0.2, 0.11],
        [-1.46, -1.07, -1.45],
        [-0.29, -0.67, -0.49],
        [0.02, 0.01, 0.21],
        [-0.46, -0.56, -0.49],
        [1.77, 1.45, 1.87],
        [-1.49, -1.77, -2.16],
    ],
}


def test_gauge_study_is_as_published(published: Published) -> None:
    found = gauge_study(readings=GAUGE)
    published("repeatability, EV", found.repeatability, 0.199933, GRR, 2e-6)
    published("reproducibility, AV", found.reproducibility, 0.226838, GRR, 2e-6)
    published("gauge, GRR", found.gauge, 0.302373, GRR, 2e-6)
    published("parts, PV", found.parts, 1.042327, GRR, 2e-6)
    published("total, TV", found.total, 1.085, GRR, 5e-4)
    for (name, ours), theirs in zip(
        found.shares_percent.items(), (3.4, 4.4, 7.8, 92.2), strict=True
    ):
        published(f"share of variance, {name}, %", ours, theirs, GRR, 0.06)
    published("interaction, p", found.interaction_p, 0.9741, GRR_COMPUTED, 1e-4)
    published("categories, ndc", found.categories, 4.861, GRR_COMPUTED, 6e-3)
