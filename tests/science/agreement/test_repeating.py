"""Gauge studies where the manual's example does not reach."""

import numpy as np
import pytest

from brewhygiene.science.agreement.repeating import gauge_study
from brewhygiene.science.errors import OutOfRange, TooFewReadings


def test_components_are_found_again() -> None:
    """Simulated: SDs 1 between places, 0.4 between people, 0.2 within, in any unit."""
    rng = np.random.default_rng(8)
    found = []
    for _ in range(200):
        places, people = rng.normal(0, 1, 10), rng.normal(0, 0.4, 5)
        x = places[None, :, None] + people[:, None, None] + rng.normal(0, 0.2, (5, 10, 3))
        study = gauge_study(readings={str(k): x[k].tolist() for k in range(5)})
        found.append((study.parts**2, study.reproducibility**2, study.repeatability**2))
    assert np.mean(found, axis=0) == pytest.approx([1, 0.16, 0.04], rel=0.1)


def test_interaction_is_kept_where_it_is_there() -> None:
    rng = np.random.default_rng(9)
    x = rng.normal(0, 1, (3, 10, 1)) + rng.normal(0, 0.1, (3, 10, 3))
    found = gauge_study(readings={name: x[k].tolist() for k, name in enumerate("ABC")})
    assert not found.pooled
    assert found.interaction_p < 0.001
    assert found.reproducibility > 5 * found.repeatability


def test_study_that_cannot_be_is_refused() -> None:
    with pytest.raises(TooFewReadings, match="at least two people"):
        gauge_study(readings={"A": [[1, 2], [2, 3]]})
    with pytest.raises(TooFewReadings, match="at least two people"):
        gauge_study(readings={"A": [[1], [2]], "B": [[1], [2]]})
    with pytest.raises(OutOfRange, match="the same number of readings at every point"):
        gauge_study(readings={"A": [[1, 2], [2, 3]], "B": [[1, 2], [2]]})
    with pytest.raises(OutOfRange, match="All readings are equal"):
        gauge_study(readings={"A": [[1, 1], [1, 1]], "B": [[1, 1], [1, 1]]})
    with pytest.raises(OutOfRange, match="the measurement system shows no variation"):
        gauge_study(readings={"A": [[1, 1], [2, 2]], "B": [[1, 1], [2, 2]]})
