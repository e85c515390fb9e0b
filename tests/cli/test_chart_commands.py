"""Chart commands: kinds, figures, proposals, and columns of tables from outside the plant."""

from __future__ import annotations

import json
import random
from datetime import UTC, datetime, timedelta
from pathlib import Path

import jsonschema
import pytest

from sandlab.charts import baseline_run_length
from sandlab.cli import main
from tests.charts.published_calls import hard_bake_table

SCHEMA_FOLDER = Path(__file__).parent / "schemas"
# Flow rates of the NIST/SEMATECH e-Handbook, 6.3.2.2, and its centre and limits from moving ranges.
FLOW = (49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1)


@pytest.fixture
def table(tmp_path: Path) -> Path:
    """Forty quiet tests at 50 with deviation 2, then twelve two deviations lower."""
    # The numbers are fixed by the seed; what is asserted follows from their construction.
    draw = random.Random(11)
    rows = [50.0 + 2.0 * draw.gauss(0, 1) for _ in range(40)] + [46.0 + draw.gauss(0, 1) for _ in range(12)]
    start = datetime(2026, 3, 2, 6, tzinfo=UTC)
    path = tmp_path / "tests.csv"
    lines = [f"{(start + timedelta(hours=h)).isoformat()},{value:.2f}" for h, value in enumerate(rows)]
    path.write_text("time,strength\n" + "\n".join(lines) + "\n", encoding="utf-8")
    return path


def run(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, str, str]:
    """A command with its output."""
    code = main(list(words))
    captured = capsys.readouterr()
    return code, captured.out, captured.err


def answer(capsys: pytest.CaptureFixture[str], *words: str) -> dict[str, object]:
    """The JSON of a command, checked against the committed schema."""
    code, out, err = run(capsys, *words, "--json")
    assert code == 0, err
    facts: dict[str, object] = json.loads(out)
    jsonschema.validate(facts, json.loads((SCHEMA_FOLDER / f"{words[0]}.json").read_text(encoding="utf-8")))
    return facts


def test_limits_of_a_column_are_those_of_the_handbook(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """NIST/SEMATECH e-Handbook 6.3.2.2: centre 50.81, mean moving range 1.8778."""
    path = tmp_path / "flow.csv"
    path.write_text("flow\n" + "\n".join(str(one) for one in FLOW), encoding="utf-8")
    facts = answer(capsys, "chart", "--csv", str(path), "--column", "flow", "--baseline-rows", "1:10")
    baseline = facts["baseline"]
    assert isinstance(baseline, dict)
    assert f"{baseline['centre']:.2f}" == "50.81"
    assert f"{baseline['sigma_moving_range'] * 1.128379:.4f}" == "1.8778"
    code, out, _ = run(
        capsys,
        "chart",
        "--csv",
        str(path),
        "--column",
        "flow",
        "--baseline-rows",
        "1:10",
        "--glyphs",
        "ascii",
    )
    assert code == 0
    assert "row 1 " in out
    assert "row 10" in out
    assert "1970" not in out


def test_a_lasting_change_is_dated_in_words(table: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """It began at the 41st test, on 3 March at 22:00, and is about 4 down; the range holds both."""
    facts = answer(
        capsys,
        "chart",
        "--csv",
        str(table),
        "--column",
        "strength",
        "--baseline-rows",
        "1:40",
        "--times",
        "time",
    )
    change = facts["change"]
    assert isinstance(change, dict)
    truth = "2026-03-03T22:00:00Z"
    assert change["began_from"] <= truth <= change["began_to"]
    assert change["size_low"] < -4.0 < change["size_high"]
    assert "since 03 Mar 2026 21:00" in str(facts["words"])
    assert "false alarm" in str(facts["words"])


@pytest.mark.parametrize("kind", ["ewma", "cusum", "residual", "wide"])
def test_each_kind_of_chart_has_its_words_and_design(
    kind: str, table: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A shift of two deviations is outside the average's and the sums' limits; every value can be drawn."""
    words = ("chart", "--csv", str(table), "--column", "strength", "--baseline-rows", "1:40", "--kind", kind)
    facts = answer(capsys, *words)
    drawn = facts["drawn"]
    assert isinstance(drawn, dict)
    assert facts["kind_words"]
    assert drawn["design"]
    assert len(drawn["values"]) == 52
    if kind in ("ewma", "cusum"):
        assert "and still is" in str(facts["kind_words"])
    code, out, _ = run(capsys, *words)
    assert code == 0
    assert "nan" not in out.lower()


def test_designs_follow_the_wish(table: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """lucas_crosier1982, Table 1: k 0.5, h 4 alarms once in 168 tests."""
    words = (
        "chart",
        "--csv",
        str(table),
        "--column",
        "strength",
        "--baseline-rows",
        "1:40",
        "--kind",
        "cusum",
    )
    facts = answer(capsys, *words, "--once-in", "168", "--within", "9")
    drawn = facts["drawn"]
    assert isinstance(drawn, dict)
    assert drawn["upper"] == pytest.approx(4.0, abs=0.1)


def test_figures_of_a_column(table: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Every section answers, in facts and in words."""
    words = ("figures", "--csv", str(table), "--column", "strength", "--baseline-rows", "1:40")
    facts = answer(capsys, *words, "--tolerance", "42:58")
    capability = facts["capability"]
    assert isinstance(capability, dict)
    # Cp of a tolerance of 16 and a deviation near 2: 16/(6 * 2).
    assert capability["pp"]["low"] < 16 / 12 < capability["pp"]["high"]
    assert {"beyond_limit", "nine_one_side"} <= {one["rule"] for one in facts["rules"]}  # type: ignore[attr-defined]
    _, out, _ = run(capsys, *words)
    assert "No tolerance is described" in out
    assert "Rules that alarm" in out


BAD: list[tuple[str, tuple[str, ...], str]] = [
    ("few", ("1", "2", "3"), "at least 8"),
    ("none", ("", "", ""), "holds no number"),
    ("infinite", ("1", "inf", "2"), "row 2: 'inf' is not a number"),
    ("words", ("1", "nan", "2"), "row 2: 'nan' is not a number"),
]


@pytest.mark.parametrize(("name", "rows", "message"), BAD)
def test_bad_columns_say_what_is_wrong(
    name: str, rows: tuple[str, ...], message: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A message with where, what and what to do; exit code 1; no traceback."""
    path = tmp_path / f"{name}.csv"
    path.write_text("x,y\n" + "\n".join(f"{row},1" for row in rows) + "\n", encoding="utf-8")
    code, out, err = run(capsys, "chart", "--csv", str(path), "--column", "x", "--baseline-rows", "1:2")
    assert (code, out) == (1, "")
    assert message in err


def test_a_constant_baseline_gives_no_limits_and_says_so(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """All figures that need spread say why they are missing."""
    path = tmp_path / "flat.csv"
    path.write_text("x\n" + "5\n" * 20, encoding="utf-8")
    words = ("--csv", str(path), "--column", "x", "--baseline-rows", "1:20", "--tolerance", "4:6")
    code, out, _ = run(capsys, "chart", *words)
    assert code == 0
    assert "all baseline values are equal" in out
    code, out, _ = run(capsys, "chart", *words, "--kind", "ewma")
    assert code == 0
    code, out, _ = run(capsys, "figures", *words)
    assert code == 0
    assert "all are equal" in out
    assert "nan" not in out.lower()


def test_wrong_options_are_told_all_at_once(table: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Upside-down tolerance, unsorted times, unknown column, rows outside, nothing to chart."""
    column = ("--csv", str(table), "--column", "strength")
    code, _, err = run(capsys, "chart", *column, "--tolerance", "9:1", "--baseline-rows", "50:60")
    assert code == 1
    assert "lower 9 is not below upper 1" in err
    assert "rows 50 to 60 are not in the table" in err
    code, _, err = run(capsys, "chart", "--csv", str(table), "--column", "strenght")
    assert code == 1
    assert "did you mean 'strength'" in err
    assert run(capsys, "chart")[0] == 1
    text = table.read_text(encoding="utf-8").splitlines()
    table.write_text("\n".join([*text[:5], text[4], *text[5:]]), encoding="utf-8")
    code, _, err = run(capsys, "chart", *column, "--times", "time")
    assert code == 1
    assert "time, row 5" in err
    assert "join tests of one time" in err


def test_the_set_together_has_two_kinds_of_chart(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Another kind is refused with the kinds there are, not drawn as something else."""
    (tmp_path / "plant").mkdir()
    code, _, err = run(capsys, "--plant", str(tmp_path / "plant"), "chart", "together", "--kind", "cusum")
    assert code == 1
    assert "kinds: individuals, ewma" in err
    code, _, err = run(capsys, "--plant", str(tmp_path / "plant"), "figures", "together")
    assert code == 1
    assert "has no figures of its own; ask for those of a property" in err


def test_subgroups_of_a_table_have_means_and_spread(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Groups in order of appearance, sizes unlike; the one that was moved is outside, the others are not."""
    draw = random.Random(3)
    lines = ["batch,kpa"]
    sizes = [3 + place % 3 for place in range(30)]
    for place, size in enumerate(sizes):
        level = 57.0 if place == 27 else 50.0
        lines += [f"b{place + 1},{draw.gauss(level, 2.0):.2f}" for _ in range(size)]
    path = tmp_path / "groups.csv"
    path.write_text("\n".join(lines), encoding="utf-8")
    rows = sum(sizes[:25])
    words = ("chart", "--csv", str(path), "--column", "kpa", "--group", "batch", "--kind", "subgroup")
    facts = answer(capsys, *words, "--baseline-rows", f"1:{rows}")
    subgroup, signals = facts["subgroup"], facts["signals"]
    assert isinstance(subgroup, dict)
    assert isinstance(signals, list)
    assert (subgroup["subgroups"], subgroup["count"], subgroup["sizes"]) == (25, rows, sizes)
    assert [one["index"] for one in signals if one["rule"] == "subgroup"] == [27]
    assert facts["state"] == "signal"
    code, out, _ = run(capsys, *words, "--baseline-rows", f"1:{rows}", "--spread", "range")
    assert code == 0
    assert "range inside each" in out
    assert "the limits of the last one are drawn" in out


def test_hard_bake_as_a_column_gives_the_printed_limits(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """montgomery, table 6.1: limits of the mean 1.31795 and 1.69325 (its rounded factors: 0.0001)."""
    path = tmp_path / "bake.csv"
    rows = [f"w{place},{one}" for place, row in enumerate(hard_bake_table()) for one in row.tolist()]
    path.write_text("wafer,width\n" + "\n".join(rows), encoding="utf-8")
    words = ("chart", "--csv", str(path), "--column", "width", "--group", "wafer", "--kind", "subgroup")
    facts = answer(capsys, *words, "--baseline-rows", "1:125", "--spread", "range")
    drawn = facts["drawn"]
    assert isinstance(drawn, dict)
    assert drawn["lower"] == pytest.approx(1.31795, abs=1e-4)
    assert drawn["upper"] == pytest.approx(1.69325, abs=1e-4)
    assert facts["signals"] == []


def test_limits_say_what_they_promise(table: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Limits as wide as advised are kept by 9 of 10 baselines: the two solvers invert each other."""
    words = ("figures", "--csv", str(table), "--column", "strength", "--baseline-rows", "1:40")
    promise = answer(capsys, *words)["promise"]
    assert isinstance(promise, dict)
    assert promise["tests_low"] < promise["tests"] < promise["tests_high"]
    assert promise["first_low"] < promise["first"] < promise["first_high"]
    wide = baseline_run_length(promise["worth"], width=promise["guaranteed_width"])
    assert wide.low == pytest.approx(promise["guaranteed_tests"], rel=1e-3)
    _, out, _ = run(capsys, *words)
    assert "the first false alarm comes after about" in out


def test_what_tests_came_from_is_ruled_out_first(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Two mullers in turn swing by themselves; a swing that no column explains may be over-correction."""
    draw = random.Random(2)
    lines = ["muller,operator,sampling point,turns,swings"]
    for place in range(240):
        turns = 50 + (2 if place % 2 else -2) + draw.gauss(0, 1)
        swings = 50 + (2, 1, -1, -2, -2, -1, 1, 2)[place % 8] + draw.gauss(0, 0.4)
        lines.append(f"{'AB'[place % 2]},{'KLM'[place // 80]},belt,{turns:.2f},{swings:.2f}")
    path = tmp_path / "swings.csv"
    path.write_text("\n".join(lines), encoding="utf-8")
    heads = ("muller", "operator", "sampling point")
    asked = [word for head in heads for word in ("--came-from", head)]
    words = ("figures", "--csv", str(path), "--baseline-rows", "1:100", *asked)
    for column, verdict in (("turns", "explained"), ("swings", "possible over-correction")):
        found = answer(capsys, *words, "--column", column)["over_correction"]
        assert isinstance(found, dict)
        assert found["verdict"] == verdict
    _, out, _ = run(capsys, *words, "--column", "turns")
    assert "muller: 2 groups" in out


def test_both_shapes_of_a_change_are_told(table: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A step of two deviations after 40 tests; without limits the same place is the best split."""
    words = ("figures", "--csv", str(table), "--column", "strength")
    shapes = answer(capsys, *words, "--baseline-rows", "1:40")["shapes"]
    assert isinstance(shapes, list)
    assert [one["shape"] for one in shapes] == ["step", "ramp"]
    assert 38 <= shapes[0]["test"] <= 44
    split = answer(capsys, *words)["shapes"]
    assert isinstance(split, list)
    assert [one["shape"] for one in split] == ["step"]
    assert 38 <= split[0]["test"] <= 44
    _, out, _ = run(capsys, *words, "--baseline-rows", "1:40")
    assert "A drift of" in out
    assert "above no change" in out
