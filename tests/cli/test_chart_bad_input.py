"""Tables that no chart can be made of: each command says where, what and what to do, or draws what it can."""

from __future__ import annotations

import random
import re
from collections.abc import Callable
from pathlib import Path

import pytest

from sandlab.cli import main

Rows = Callable[[int, float], str]
KINDS = ("individuals", "ewma", "cusum", "residual", "wide", "subgroup")


def hour(place: int) -> str:
    """An hour after the last one."""
    return f"2026-03-{2 + place // 24:02d}T{place % 24:02d}:00"


# What each row of a table of forty is made of: time, value, group.
TABLES: dict[str, Rows] = {
    "constant": lambda place, value: f"{hour(place)},50.0,g{place // 4}",
    "missing": lambda place, value: f"{hour(place)},,g{place // 4}",
    "infinite": lambda place, value: f"{hour(place)},{'inf' if place == 7 else f'{value:.2f}'},g{place // 4}",
    "not a number": lambda place, value: f"{hour(place)},{'nan' if place == 7 else value},g{place // 4}",
    "huge": lambda place, value: f"{hour(place)},{'9' * 200 if place == 7 else value},g{place // 4}",
    "repeated times": lambda place, value: f"{hour(place // 2)},{value:.2f},g{place // 4}",
    "unsorted times": lambda place, value: f"{hour(39 - place)},{value:.2f},g{place // 4}",
    "stuck, then free": lambda place, value: f"{hour(place)},{50.0 if place < 20 else value},g{place // 4}",
    "single tests": lambda place, value: f"{hour(place)},{value:.2f},g{place}",
    "one group": lambda place, value: f"{hour(place)},{value:.2f},g",
    "no label": lambda place, value: f"{hour(place)},{value:.2f},{'' if place == 5 else 'g1'}",
    "mostly missing": lambda place, value: f"{hour(place)},{value if place % 9 == 0 else ''},g{place // 9}",
}
FEW = "time,x,g\n2026-03-02T06:00,50,a\n2026-03-02T07:00,51,a\n"


@pytest.fixture(params=[*TABLES, "two tests", "head alone", "empty", "no head"])
def table(request: pytest.FixtureRequest, tmp_path: Path) -> Path:
    """A table with one fault."""
    draw = random.Random(1)
    texts = {"two tests": FEW, "head alone": "time,x,g\n", "empty": "", "no head": "1,2,3\n4,5,6\n"}
    if request.param in TABLES:
        rows = [TABLES[request.param](place, 50 + draw.gauss(0, 1)) for place in range(40)]
        text = "time,x,g\n" + "\n".join(rows) + "\n"
    else:
        text = texts[request.param]
    path = tmp_path / "table.csv"
    path.write_text(text, encoding="utf-8")
    return path


def said(capsys: pytest.CaptureFixture[str], *words: str) -> str:
    """All that a command says; it ends by itself, and nothing in it is not a number."""
    code = main(list(words))
    captured = capsys.readouterr()
    assert code == 0 or captured.err.strip()
    text = captured.out + captured.err
    # The table's own 'nan' and 'inf' may be quoted.
    assert not re.search(r"(?<!')\b(nan|inf)\b(?!')", text), text
    return text


def test_every_kind_of_chart_and_the_figures_speak(table: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """With a baseline, with one of two tests, and without; as text and as JSON."""
    for rows in (("--baseline-rows", "1:20"), ("--baseline-rows", "1:2"), ()):
        where = ("--csv", str(table), "--column", "x", "--times", "time", *rows)
        for kind in KINDS:
            group = ("--group", "g") if kind == "subgroup" else ()
            said(capsys, "chart", *where, "--kind", kind, *group)
            said(capsys, "chart", *where, "--kind", kind, *group, "--json")
        said(capsys, "figures", *where, "--tolerance", "48:52")
        said(capsys, "figures", *where, "--json")


@pytest.mark.parametrize(
    ("words", "reason"),
    [
        (("--baseline-rows", "1:2"), "at least 8"),
        (("--baseline-rows", "20:10"), "from 1 to 40"),
        (("--baseline-rows", "x"), "is not A:B"),
        (("--tolerance", "52:48"), "exchange them"),
        (("--tolerance", "48:inf"), "is not a number"),
        (("--kind", "subgroup"), "add --group NAME"),
        (("--group", "g"), "add --kind subgroup"),
        (("--kind", "subgroup", "--group", "nobody"), "has no column"),
        (("--kind", "ewma", "--once-in", "0", "--baseline-rows", "1:30"), "from 10 to 1000000"),
        (("--once-in", "500"), "--once-in: a chart of kind individuals has none"),
        (("--kind", "residual", "--within", "5"), "--within: a chart of kind residual has none"),
        (("--column", "g", "--kind", "ewma", "--shift", "2"), "--shift: a chart of several properties"),
        (("--repeats",), "repeats: a chart of kind individuals has none"),
        (("--last", "5"), "--last: is of a property of the plant"),
        (("--from", "2026-03-02", "--with", "moisture"), "--with: is of a property of the plant"),
    ],
)
def test_options_that_cannot_be_say_what_to_do(
    words: tuple[str, ...], reason: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    draw = random.Random(2)
    path = tmp_path / "good.csv"
    rows = "\n".join(f"{50 + draw.gauss(0, 1):.2f},g{place // 4}" for place in range(40))
    path.write_text(f"x,g\n{rows}\n", encoding="utf-8")
    assert reason in said(capsys, "chart", "--csv", str(path), "--column", "x", *words)


def test_figures_are_of_one_column(table: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Two columns would leave one of them out unsaid."""
    text = said(capsys, "figures", "--csv", str(table), "--column", "x", "--column", "g")
    assert "column: figures are of one column; name one" in text


def test_options_of_tables_need_a_table(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """What a chart would not heed is refused rather than passed over."""
    for command in ("chart", "figures"):
        plant = ("--plant", str(tmp_path / "plant"))
        text = said(capsys, command, "moisture", *plant, "--tolerance", "3:4", "--column", "x")
        assert "--tolerance: is of a table; add --csv FILE" in text
        assert "--column: is of a table" in text


@pytest.mark.parametrize(
    "words", [("--width", "-5"), ("--height", "0"), ("--once-in", "nan"), ("--last", "0")]
)
def test_sizes_that_cannot_be_are_refused_at_once(
    words: tuple[str, ...], capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit):
        main(["chart", "--csv", "any.csv", "--column", "x", *words])
    assert words[0] in capsys.readouterr().err
