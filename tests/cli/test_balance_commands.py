"""The balance from the command line: the same facts as lines and as JSON that fits its schema."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path

import jsonschema
import pytest

from sandlab.cli import main
from tests.lab.sand_plant import sand_line, write_specs

SCHEMA_FOLDER = Path(__file__).parent / "schemas"


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Five days up to now of a small line; these commands only read."""
    plant = tmp_path_factory.mktemp("cli") / "plant"
    with sand_line(plant, datetime.now(UTC) - timedelta(minutes=5), days=5):
        return plant


def run(capsys: pytest.CaptureFixture[str], folder: Path, *words: str) -> tuple[int, str, str]:
    """Exit code, standard output, standard error."""
    code = main(["--plant", str(folder), *words])
    captured = capsys.readouterr()
    return code, captured.out, captured.err


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (
            ("balance", "--glyphs", "ascii"),
            ("comes in, kg/h", "Prepared sand, with its 90 % band", "Wear factor"),
        ),
        (
            (
                "forecast",
                "--days",
                "2",
                "--job",
                "gully grate=1",
                "--job",
                "manhole frame=3",
                "--new-sand",
                "90",
            ),
            (
                "gully grate 25%, manhole frame 75%",
                "sand to metal 6.35",
                "In the long run",
                "Temper water needed",
            ),
        ),
        (
            ("identify", "--days", "5"),
            ("Wear factor of clay", "The window does not tell", "nothing has been changed"),
        ),
        (("books",), ("Additives, kg per t of metal", "Bentonite", "carried out")),
    ],
)
def test_lines_and_json(
    words: tuple[str, ...], said: tuple[str, ...], folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Words a person reads, and facts that fit the committed schema."""
    code, out, err = run(capsys, folder, *words)
    assert (code, err) == (0, "")
    for part in said:
        assert part in out
    code, out, _ = run(capsys, folder, *words, "--json")
    assert code == 0
    committed = json.loads((SCHEMA_FOLDER / f"{words[0]}.json").read_text(encoding="utf-8"))
    jsonschema.validate(json.loads(out), committed)


def test_numbers_follow_the_plants_decimal_mark(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A comma everywhere, and a comma is understood."""
    import shutil

    plant = Path(shutil.copytree(folder, tmp_path / "plant"))
    specs = plant / "specs" / "system.toml"
    specs.write_text(
        specs.read_text(encoding="utf-8").replace("[plant]", '[plant]\ndecimal_mark = ","', 1),
        encoding="utf-8",
    )
    _, out, _ = run(capsys, plant, "forecast", "--days", "1", "--set", "bentonite=11,5")
    assert "Bentonite 11,5 kg" in out and "target 8,00" in out
    assert "11.5" not in out


def test_wrong_words_are_told_all_at_once(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Numbers that are none, and what cannot be; no traceback."""
    code, out, err = run(capsys, folder, "forecast", "--new-sand", "much", "--fines", "few")
    assert (code, out) == (1, "")
    assert "new sand" in err and "fines" in err
    code, _, err = run(capsys, folder, "forecast", "--set", "bentonit=12", "--days", "-1")
    assert code == 1
    assert "did you mean 'bentonite'" in err and "days" in err
    code, _, err = run(capsys, folder, "books", "--from", "2026-03-05T00:00", "--to", "2026-03-01T00:00")
    assert code == 1 and "earlier time first" in err
    assert run(capsys, folder, "identify", "--days", "1")[0] == 1


def test_a_plant_without_batches(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Each command says what to do."""
    write_specs(tmp_path / "plant")
    for command in ("balance", "forecast", "identify", "books"):
        code, out, err = run(capsys, tmp_path / "plant", command)
        assert (code, out) == (1, "")
        assert "batch" in err
