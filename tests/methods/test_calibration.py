"""The methylene-blue calibration: basis of the mixes, line, and what it refuses."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from sandlab.errors import InputError
from sandlab.methods import Mix, calibrate_methylene_blue, compute, read_mixes
from sandlab.methods.calibration import ON_TOP_OF_SAND, SHARE_OF_WHOLE

SCATTERED = [
    Mix(2.0, SHARE_OF_WHOLE, 5.0, 11.2),
    Mix(4.0, ON_TOP_OF_SAND, 5.0, 21.9),
    Mix(8.0, SHARE_OF_WHOLE, 5.0, 43.5),
    Mix(12.0, SHARE_OF_WHOLE, 4.0, 52.1),
    Mix(10.0, SHARE_OF_WHOLE, 5.0, 53.4),
]


@pytest.mark.parametrize("through_zero", [False, True])
def test_line_agrees_with_numpy(through_zero: bool) -> None:
    """Slope, intercept and standard error against numpy.linalg.lstsq, an independent solver."""
    line = calibrate_methylene_blue(SCATTERED, sample_g=5.0, through_zero=through_zero)
    clay = np.array([mix.clay_g for mix in SCATTERED])
    titre = np.array([mix.titre_ml for mix in SCATTERED])
    design = np.column_stack([clay] if through_zero else [clay, np.ones_like(clay)])
    solution, squares, *_ = np.linalg.lstsq(design, titre, rcond=None)
    variance = squares[0] / (len(clay) - design.shape[1]) * np.linalg.inv(design.T @ design)
    assert line.ml_per_percent == pytest.approx(solution[0] * 0.05)
    assert line.intercept_ml == pytest.approx(0.0 if through_zero else solution[1])
    assert line.standard_error == pytest.approx(np.sqrt(variance[0, 0]) * 0.05)
    assert line.r == pytest.approx(np.corrcoef(clay, titre)[0, 1])
    assert line.mixes == tuple(SCATTERED)


def test_line_through_two_mixes_cannot_judge_itself() -> None:
    """Two mixes and an intercept leave nothing over: no standard error, and a sentence."""
    line = calibrate_methylene_blue(SCATTERED[:2], sample_g=5.0, through_zero=False)
    assert line.standard_error is None
    assert "cannot be judged" in line.flags[0]


def test_scattered_mixes_are_flagged() -> None:
    """A wrong weighing shows in r."""
    wrong = [*SCATTERED[:3], Mix(6.0, SHARE_OF_WHOLE, 5.0, 50.0)]
    assert (
        "do not lie on a line" in calibrate_methylene_blue(wrong, sample_g=5.0, through_zero=False).flags[0]
    )


@pytest.mark.parametrize(
    "mixes",
    [
        [],
        SCATTERED[:1],
        [Mix(8.0, SHARE_OF_WHOLE, 5.0, 43.0), Mix(8.0, ON_TOP_OF_SAND, 5.0, 43.2)],
        [Mix(0.0, SHARE_OF_WHOLE, 5.0, 1.0), Mix(0.0, SHARE_OF_WHOLE, 5.0, 1.2)],
        [Mix(2.0, SHARE_OF_WHOLE, 5.0, 43.0), Mix(8.0, SHARE_OF_WHOLE, 5.0, 11.0)],
    ],
)
def test_mixes_that_give_no_line_are_refused(mixes: list[Mix]) -> None:
    """None, one, two alike, none with clay, or the titre falling."""
    with pytest.raises(InputError, match="mixes"):
        calibrate_methylene_blue(mixes, sample_g=5.0, through_zero=False)


def test_all_wrong_mixes_are_named_at_once() -> None:
    """A foundryman mends the table in one go."""
    good: dict[str, Any] = {"nominal_percent": 8.0, "basis": SHARE_OF_WHOLE, "mass_g": 5.0, "titre_ml": 43.0}
    with pytest.raises(InputError) as caught:
        read_mixes([good | {"mass": 5.0}, {key: good[key] for key in ("basis", "mass_g")}])
    assert [problem.where for problem in caught.value.problems] == ["mixes 1", "mixes 2", "mixes 2"]
    assert "'mass_g'" in caught.value.problems[0].do
    with pytest.raises(InputError) as caught:
        read_mixes([good | {"basis": "on top"}, good | {"mass_g": 0.0, "titre_ml": -1.0}])
    assert [problem.where for problem in caught.value.problems] == ["basis", "mass_g", "titre_ml"]


def test_clay_outside_the_mixes_is_flagged() -> None:
    """The line is not trusted beyond the clay it was made with."""
    tables = [
        {"nominal_percent": 6.0, "basis": SHARE_OF_WHOLE, "mass_g": 5.0, "titre_ml": 32.0},
        {"nominal_percent": 10.0, "basis": SHARE_OF_WHOLE, "mass_g": 5.0, "titre_ml": 53.5},
    ]
    constants = {"mixes": tables, "through_zero": True}
    inside = compute("methylene_blue_mixes", {"titre_ml": 42.8, "sample_g": 5.0}, constants)
    beyond = compute("methylene_blue_mixes", {"titre_ml": 80.0, "sample_g": 5.0}, constants)
    assert not inside.flags
    assert "outside the mixes" in beyond.flags[0]
