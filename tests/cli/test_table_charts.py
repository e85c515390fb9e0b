"""Tables with known figures, several columns at once, bounds for values; two properties side by side."""

from __future__ import annotations

import json
import random
from pathlib import Path

import jsonschema
import numpy as np
import pytest

from sandlab.cli import main
from tests.charts.published_data import column

SCHEMAS = Path(__file__).parent / "schemas"
TABLE_9_1 = ("--column", "x", "--centre", "10", "--sd", "1")
Capture = pytest.CaptureFixture[str]


def said(capsys: Capture, *words: str) -> tuple[int, str]:
    """Exit code and all that a command says; nothing in it is not a number."""
    code = main(list(words))
    captured = capsys.readouterr()
    text = captured.out + captured.err
    assert "nan" not in text.lower().replace("'nan'", "")
    assert "inf " not in text.lower().replace("'inf' ", "")
    return code, text


def facts(capsys: Capture, *words: str, schema: str = "chart") -> dict[str, object]:
    """The JSON of a command, checked against the committed schema."""
    code, text = said(capsys, *words, "--json")
    assert code == 0, text
    found: dict[str, object] = json.loads(text)
    jsonschema.validate(found, json.loads((SCHEMAS / f"{schema}.json").read_text(encoding="utf-8")))
    return found


@pytest.fixture
def montgomery(tmp_path: Path) -> Path:
    """The thirty values of Montgomery's Table 9.1."""
    path = tmp_path / "table91.csv"
    values = column("montgomery_table9_1.csv", "x").tolist()
    path.write_text("x\n" + "\n".join(f"{value}" for value in values), encoding="utf-8")
    return path


@pytest.fixture
def together(tmp_path: Path) -> Path:
    """Sixty samples whose strength falls as moisture rises; row 51 breaks that, row 21 is empty."""
    draw = random.Random(5)
    rows = ["time,moisture,strength,permeability"]
    for place in range(60):
        away = draw.gauss(0, 1)
        moisture, strength = 3.3 + 0.1 * away, 160 - 5 * away + draw.gauss(0, 1)
        if place == 50:
            moisture, strength = 3.45, 168.0
        cells = [f"{moisture:.2f}", f"{strength:.0f}", f"{110 + draw.gauss(0, 2):.0f}"]
        if place % 7 == 3:
            cells[2] = ""
        if place == 20:
            cells = ["", "", ""]
        rows.append(f"2026-03-{2 + place // 24:02d}T{place % 24:02d}:00,{','.join(cells)}")
    path = tmp_path / "set.csv"
    path.write_text("\n".join(rows) + "\n", encoding="utf-8")
    return path


SET = ("--column", "moisture", "--column", "strength", "--column", "permeability")


def test_an_ewma_with_known_figures_is_the_printed_one(montgomery: Path, capsys: Capture) -> None:
    """montgomery, Table 9.1 (weight 0.1, limits at 2.7): averages and limits; outside at 29 and 30 only."""
    words = ("chart", "--csv", str(montgomery), *TABLE_9_1, "--kind", "ewma")
    found = facts(capsys, *words, "--weight", "0.1", "--limit-width", "2.7")
    drawn, signals = found["drawn"], found["signals"]
    assert isinstance(drawn, dict)
    assert isinstance(signals, list)
    for key, name in (("values", "ewma_l0.1"), ("lower_at", "lcl_L2.7"), ("upper_at", "ucl_L2.7")):
        np.testing.assert_allclose(drawn[key], column("montgomery_table9_1.csv", name), atol=0.005 + 1e-9)
    assert [one["index"] for one in signals] == [28]
    assert "and still is" in str(found["kind_words"])
    # Derived by the run-length equation of crowder1987, the first limits being narrower than the last.
    assert "one false alarm in 360 tests" in drawn["design"]


def test_a_cusum_with_known_figures_is_the_printed_one(montgomery: Path, capsys: Capture) -> None:
    """montgomery, Table 9.1 (k 0.5, h 5): the upper sum is 5.28 at test 29, where it first signals."""
    words = ("chart", "--csv", str(montgomery), *TABLE_9_1, "--kind", "cusum")
    found = facts(capsys, *words, "--reference", "0.5", "--decision", "5")
    drawn, signals = found["drawn"], found["signals"]
    assert isinstance(drawn, dict)
    assert isinstance(signals, list)
    assert drawn["values"][28] == pytest.approx(5.28, abs=0.005)
    assert [one["index"] for one in signals] == [28]
    # From memory, Hawkins's table in montgomery, section 9.1: h 4.77 goes with k 0.5 for 370 tests.
    solved = facts(capsys, *words, "--reference", "0.5")["drawn"]
    assert isinstance(solved, dict)
    assert f"{solved['upper']:.2f}" == "4.77"


def test_sums_with_known_figures_are_those_of_the_handbook(tmp_path: Path, capsys: Capture) -> None:
    """NIST/SEMATECH e-Handbook 6.3.2.3: printed sums; outside from group 14 on."""
    path = tmp_path / "nist.csv"
    values = column("nist_cusum.csv", "xbar").tolist()
    path.write_text("x\n" + "\n".join(f"{value}" for value in values), encoding="utf-8")
    known = ("--column", "x", "--centre", "325", "--sd", "1")
    settings = ("--kind", "cusum", "--reference", "0.3175", "--decision", "4.1959")
    found = facts(capsys, "chart", "--csv", str(path), *known, *settings)
    high, low = (column("nist_cusum.csv", f"S{side}_published") for side in ("hi", "lo"))
    drawn, signals = found["drawn"], found["signals"]
    assert isinstance(drawn, dict)
    assert isinstance(signals, list)
    np.testing.assert_allclose(drawn["values"], np.where(high >= low, high, -low), atol=0.005 + 1e-9)
    assert [one["index"] for one in signals] == [13]


def test_single_tests_stand_against_known_figures(montgomery: Path, capsys: Capture) -> None:
    """montgomery, Figure 9.1: limits 7 and 13 show nothing; no baseline of few tests is spoken of."""
    words = ("chart", "--csv", str(montgomery), *TABLE_9_1)
    found = facts(capsys, *words)
    baseline = found["baseline"]
    assert isinstance(baseline, dict)
    assert (baseline["lower"], baseline["upper"], found["state"]) == (7.0, 13.0, "in_control")
    _, text = said(capsys, *words)
    assert "Limits 7.000 / 10.000 / 13.000: centre and standard deviation as given" in text
    assert "uncertain" not in text


@pytest.mark.parametrize(
    ("words", "reason"),
    [
        (("--centre", "10"), "--sd: is missing; give --centre and --sd together"),
        (("--sd", "1"), "--centre: is missing"),
        (("--centre", "10", "--sd", "0"), "0 is no standard deviation"),
        (("--centre", "10", "--sd", "1e-300"), "give a value from 1e-09 to 1e+06"),
        (("--centre", "1e308", "--sd", "1"), "--centre: 1e+308 is too large"),
        (("--centre", "10", "--sd", "1", "--baseline-rows", "1:20"), "give one or the other"),
        (("--weight", "0.1"), "a chart of kind individuals has none; leave it out, or add --kind ewma"),
        (("--kind", "cusum", "--weight", "0.1"), "a chart of kind cusum has none"),
        (("--kind", "cusum", "--decision", "5"), "decision: is given without the reference"),
        ((*TABLE_9_1[2:], "--kind", "ewma", "--weight", "3"), "give a value from 0.005 to 1"),
        ((*TABLE_9_1[2:], "--kind", "cusum", "--reference", "-1"), "reference"),
        ((*TABLE_9_1[2:], "--kind", "subgroup", "--group", "x"), "--centre and --sd: are of single tests"),
    ],
)
def test_figures_that_cannot_be_say_what_to_do(
    words: tuple[str, ...], reason: str, montgomery: Path, capsys: Capture
) -> None:
    assert reason in said(capsys, "chart", "--csv", str(montgomery), "--column", "x", *words)[1]


@pytest.mark.parametrize("known", [("1000000", "1e-9"), ("-1000000", "1000000"), ("0", "1e-9")])
@pytest.mark.parametrize("kind", ["individuals", "ewma", "cusum", "residual", "wide"])
def test_known_figures_at_their_ends_still_draw(
    known: tuple[str, str], kind: str, montgomery: Path, capsys: Capture
) -> None:
    words = ("chart", "--csv", str(montgomery), "--column", "x", "--centre", known[0], "--sd", known[1])
    assert facts(capsys, *words, "--kind", kind)["points"]
    assert said(capsys, *words, "--kind", kind)[0] == 0


def test_known_figures_judge_tests_that_do_not_vary(tmp_path: Path, capsys: Capture) -> None:
    """Constant and few tests need no baseline: 12.5 lies 2.5 deviations up, one test is enough."""
    path = tmp_path / "flat.csv"
    path.write_text("x\n" + "12.5\n" * 9, encoding="utf-8")
    words = ("chart", "--csv", str(path), *TABLE_9_1)
    for kind in ("individuals", "ewma", "cusum", "residual", "wide"):
        assert said(capsys, *words, "--kind", kind)[0] == 0
    assert facts(capsys, *words)["state"] == "signal"
    path.write_text("x\n12.5\n", encoding="utf-8")
    for kind in ("individuals", "ewma", "cusum", "residual", "wide"):
        assert said(capsys, *words, "--kind", kind)[0] == 0


def test_several_columns_name_the_relation_that_broke(together: Path, capsys: Capture) -> None:
    """Neither 3.45 nor 168 is odd alone (1.5 and 1.6 deviations): what is odd is that both are high."""
    words = ("chart", "--csv", str(together), *SET, "--times", "time", "--baseline-rows", "1:40")
    found = facts(capsys, *words)
    signals, points = found["signals"], found["points"]
    assert isinstance(signals, list)
    assert isinstance(points, list)
    assert len(points) == 59
    odd = [one for one in signals if one["at"] == "2026-03-04T02:00:00Z"]
    assert len(odd) == 1
    assert "for this" in odd[0]["reason"]
    assert points[odd[0]["index"]]["sample"] == "row 51"
    code, text = said(capsys, *words)
    assert code == 0
    assert "samples with missing tests were filled in" in text
    assert "ALARM  2026-03-04 02:00" in text
    name = "moisture, strength and permeability together: "
    assert text.startswith(f"{name}all 3 go together as they did.\n")
    assert "moisture and strength together: both go" in said(capsys, *words[:3], *SET[:4], *words[-2:])[1]
    _, text = said(capsys, *words[:-2])
    assert text.startswith(
        f"{name}59 samples; for limits, name the rows they come from with --baseline-rows.\n"
    )


def test_moving_averages_of_several_columns(together: Path, capsys: Capture) -> None:
    """A level that moves by one deviation is named; its weight is told and heeded."""
    lines = together.read_text(encoding="utf-8").splitlines()
    moved = []
    for place, line in enumerate(lines):
        time, moisture, *rest = line.split(",")
        raised = place > 40 and moisture
        moved.append(",".join([time, f"{float(moisture) + 0.1:.2f}" if raised else moisture, *rest]))
    together.write_text("\n".join(moved), encoding="utf-8")
    words = ("chart", "--csv", str(together), *SET, "--baseline-rows", "1:40", "--kind", "ewma")
    found = facts(capsys, *words, "--weight", "0.2")
    assert found["state"] == "signal"
    drawn, signals = found["drawn"], found["signals"]
    assert isinstance(drawn, dict)
    assert isinstance(signals, list)
    assert "weight 0.2" in drawn["design"]
    assert signals[-1]["reason"].startswith("averages: moisture is high")
    assert "follows from one false alarm" in said(capsys, *words, "--weight", "0.2", "--limit-width", "3")[1]


@pytest.mark.parametrize(
    ("change", "words", "reason"),
    [
        (("2026-03-02T05", "2026-03-02T04"), (), "is not after the time before it"),
        (("2026-03-02T05", "2026-03-09T05"), (), "time, row 7"),
        (("2026-03-02T05:00,", "2026-03-02T05:00,inf"), (), "moisture, row 6: 'inf"),
        (("", ""), ("--baseline-rows", "1:5"), "choose a window with 8 or more"),
        (("", ""), ("--baseline-rows", "1:90"), "give two numbers from 1 to 60"),
        (("", ""), ("--column", "strength"), "'strength' is named twice"),
        (("", ""), ("--column", "nobody"), "has no column 'nobody'"),
        (("", ""), ("--kind", "cusum"), "several columns have no chart of kind cusum"),
        (("", ""), ("--tolerance", "3:4"), "--tolerance: is of one column"),
    ],
)
def test_several_columns_that_cannot_be_judged(
    change: tuple[str, str], words: tuple[str, ...], reason: str, together: Path, capsys: Capture
) -> None:
    """Times, cells, rows and options: each says where, what and what to do."""
    text = together.read_text(encoding="utf-8").replace(*change, 1) if change[0] else None
    if text is not None:
        together.write_text(text, encoding="utf-8")
    base = ("chart", "--csv", str(together), *SET, "--times", "time", "--baseline-rows", "1:40")
    code, told = said(capsys, *base, *words)
    assert (code, reason in told) == (1, True), told


def test_a_constant_or_an_empty_column_is_named(tmp_path: Path, capsys: Capture) -> None:
    path = tmp_path / "flat.csv"
    rows = [f"{40 + place % 5},5,," for place in range(30)]
    path.write_text("a,b,c,d\n" + "\n".join(rows), encoding="utf-8")
    words = ("chart", "--csv", str(path), "--column", "a", "--baseline-rows", "1:30")
    assert "all tests of b are equal; leave it out" in said(capsys, *words, "--column", "b")[1]
    code, text = said(capsys, *words, "--column", "c", "--column", "d")
    assert code == 1
    assert "c: holds no number" in text
    assert "d: holds no number" in text
    code, text = said(capsys, *words[:5], "--column", "b")
    assert (code, "name the rows they come from" in text) == (0, True)


def test_a_bound_is_told_as_one(tmp_path: Path, capsys: Capture) -> None:
    """A cell such as <0.5 is no measured value: the words name its row, its point carries a flag."""
    path = tmp_path / "bounds.csv"
    rows = [f"{0.8 + 0.1 * (place % 4):.1f},{place % 3 + 1},g{place // 4}" for place in range(24)]
    rows[6], rows[9] = "<0.5,2,g1", ">1.4,2,g2"
    path.write_text("x,y,g\n" + "\n".join(rows), encoding="utf-8")
    words = ("--csv", str(path), "--column", "x", "--baseline-rows", "1:24")
    told = "2 values are only bounds and count as the numbers written: row 7 (<0.5), row 10 (>1.4)."
    found = facts(capsys, "chart", *words)
    points = found["points"]
    assert isinstance(points, list)
    assert str(found["words"]).endswith(told)
    assert points[6]["flags"] == ["written <0.5: counts as 0.5"]
    assert points[5]["flags"] == []
    assert told in said(capsys, "figures", *words)[1]
    assert told in said(capsys, "chart", *words, "--kind", "subgroup", "--group", "g")[1]
    both = facts(capsys, "chart", *words, "--column", "y")
    assert "2 values of x are only bounds" in str(both["words"])
    assert both["points"][9]["flags"] == ["x written >1.4: counts as 1.4"]  # type: ignore[index]
