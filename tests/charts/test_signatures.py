"""The docstring and the signature of every chart formula say the same, and its example comes out."""

from __future__ import annotations

import doctest
import importlib
import inspect
import re
from collections.abc import Callable
from typing import Any

import pytest

from tests.published_checks import sources

NAMES = {
    "constants": ("d2", "d3", "c4", "range_limit_factors", "sigma_limit_factors"),
    "estimates": ("mean_and_sigma", "lag1_autocorrelation"),
    "baseline": ("freeze", "given_limits"),
    "ewma": ("ewma",),
    "cusum": ("cusum",),
    "changepoint": ("change_point", "split_point"),
    "autocorrelation": ("fit_autoregression",),
    "noisy_autoregression": ("fit_noisy_autoregression",),
    "residuals": ("residuals", "widened_limits", "autocorrelated_ewma"),
    "over_correction": ("over_correction",),
    "run_length.ewma": ("ewma_run_length", "ewma_width"),
    "run_length.cusum": ("cusum_run_length", "cusum_decision", "cusum_reference", "crosier_run_length"),
    "run_length.rules": ("rules_run_length",),
    "run_length.individuals": ("individuals_alarm_rate_ar1",),
    "run_length.moving_range": ("moving_range_run_length",),
    "run_length.distributions": (
        "ewma_run_length_distribution",
        "cusum_run_length_distribution",
        "rules_run_length_distribution",
        "moving_range_run_length_distribution",
        "individuals_run_length_distribution",
    ),
    "run_length.simulation": ("simulated_run_length", "simulated_ewma_run_length"),
    "run_length.drift_design": ("design_ewma", "design_cusum"),
    "false_alarms": ("false_alarms",),
    "subgroups": ("freeze_subgroups",),
    "phase_one": ("trial_width",),
    "conditional": ("baseline_run_length", "guaranteed_width"),
    "baseline_check": ("check_baseline",),
    "multivariate": ("freeze_multivariate", "hotelling"),
    "decomposition": ("decompose",),
    "mewma": ("mewma",),
    "run_length.mewma": ("mewma_run_length", "mewma_limit"),
    "indices": ("capability_indices", "cp_interval", "cpk_interval", "cpm_interval"),
    "capability": ("capability",),
    "normality": ("anderson_darling", "anderson_darling_chance", "johnson_quantiles"),
    "trend": ("robust_trend", "kendall_tail"),
    "outlook": ("time_to_limit",),
    "forecast": ("forecast", "trend_forecast"),
    "relation": ("fit_relation", "relation_band"),
}
MODULES = {name: importlib.import_module(f"sandlab.charts.{name}") for name in NAMES}
FORMULAS: dict[str, Callable[..., Any]] = {
    name: inspect.unwrap(getattr(MODULES[module], name)) for module, names in NAMES.items() for name in names
}
PARAMETER = re.compile(r"^    (\w+): .*\[[^\[\]]+\]$")
SECTIONS = ("Shapes:", "Validity:", "Errors:", "Example:", "Source:")


@pytest.mark.parametrize("name", FORMULAS)
def test_docstring_lists_the_parameters_with_units(name: str) -> None:
    """Every parameter stands in the docstring, in order, and its line ends in a unit; so does the result."""
    lines = inspect.getsource(FORMULAS[name]).splitlines()
    listed = [match[1] for line in lines if (match := PARAMETER.match(line))]
    assert listed == [*inspect.signature(FORMULAS[name]).parameters, "returns"]


@pytest.mark.parametrize("name", FORMULAS)
def test_docstring_has_every_section(name: str) -> None:
    """Equation, shapes, validity, errors, an example and a source that is in the bibliography."""
    text = inspect.getdoc(FORMULAS[name]) or ""
    assert "``" in text
    places = [text.index(section) for section in SECTIONS]
    assert places == sorted(places)
    assert ">>>" in text[places[3] :]
    source = re.search(r"Source: (\w+), \S", text)
    assert source and source[1] in sources()


@pytest.mark.parametrize("module", NAMES)
def test_examples_hold(module: str) -> None:
    """The examples of the docstrings come out as written."""
    result = doctest.testmod(MODULES[module])
    assert result.failed == 0
    # Examples of cached functions are not found by doctest: they are run here.
    for name in NAMES[module]:
        item = FORMULAS[name]
        if item is not getattr(MODULES[module], name):
            text = inspect.getdoc(item) or ""
            test = doctest.DocTestParser().get_doctest(text, dict(vars(MODULES[module])), name, None, None)
            assert doctest.DocTestRunner(verbose=False).run(test).failed == 0
