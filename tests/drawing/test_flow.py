"""The tower of the sand's way: what it says in three glyph sets and as SVG."""

from __future__ import annotations

import re
import xml.etree.ElementTree as Tree

import pytest

from sandlab.drawing import GLYPH_SETS, Arm, FlowPicture, GlyphSet, Station, flow_cells, flow_svg
from sandlab.drawing.glyphs import CONSOLE_GLYPHS
from tests.drawing.test_golden import compare


def tower() -> FlowPicture:
    """An invented line that loses as much as it gets."""
    return FlowPicture(
        ("comes in, kg/h", "the sand, t/h dry", "leaves, kg/h"),
        (
            Station(
                "Mixer",
                "30.2",
                (
                    Arm("water", 840.0, "840"),
                    Arm("bentonite", 212.0, "212"),
                    Arm("coal dust", 198.0, "198"),
                    Arm("new sand", 400.0, "400"),
                ),
                (Arm("steam", 90.0, "90"),),
            ),
            Station("Moulding", "30.2"),
            Station(
                "Pouring, shake-out",
                "30.1",
                (Arm("core sand", 75.0, "75"),),
                (Arm("burned out", 64.0, "64"), Arm("steam", 1215.0, "1215")),
            ),
            Station("Cooling, dust", "30.0", (), (Arm("dust", 55.0, "55"),)),
            Station("Silo", "120 t", (), (Arm("carried out", 301.0, "301"),)),
        ),
        ("return sand", "29.4"),
        Arm("in all", 1725.0, "1725"),
        Arm("in all", 1725.0, "1725"),
        "once round in 4.1 h",
    )


@pytest.mark.parametrize("glyphs", GLYPH_SETS)
def test_the_tower(glyphs: GlyphSet) -> None:
    """At the two sizes of the Balance screen."""
    picture = tower()
    sizes = ((80, picture.rows), (120, picture.rows))
    drawn = [flow_cells(picture, width=w, height=h, glyphs=glyphs).text() for w, h in sizes]
    compare(f"flow_{glyphs}", "\n\n".join(drawn))


def test_only_the_characters_of_the_set_are_used() -> None:
    """ASCII is pure, the console set keeps to what its fonts have."""
    assert flow_cells(tower(), width=100, height=20, glyphs="ascii").text().isascii()
    beyond = set(flow_cells(tower(), width=100, height=20, glyphs="console").text())
    assert {char for char in beyond if not char.isascii()} <= set(CONSOLE_GLYPHS)


def test_the_heavy_part_of_an_arm_is_its_share_of_the_largest() -> None:
    """Water 840 of 1215 fills two thirds of its arm; the largest arm is heavy up to its head."""
    lines = flow_cells(tower(), width=120, height=20).text().splitlines()
    water = next(line for line in lines if line.startswith(" water"))
    shaft = re.search("[━─]+►", water)
    assert shaft is not None
    assert shaft[0].count("━") == round((len(shaft[0]) - 1) * 840 / 1215)
    steam = next(line for line in lines if "1215 steam" in line)
    assert "━►" in steam and "─►" not in steam.split("├")[1]


def test_too_small_a_space_says_so() -> None:
    """One line, not a broken tower."""
    assert "needs 78x" in flow_cells(tower(), width=60, height=20).text()
    assert "needs 78x" in flow_cells(tower(), width=80, height=10).text()


def test_the_svg_says_the_same() -> None:
    """Every name and number, strokes as wide as the flows, nothing from outside."""
    text = flow_svg(tower(), title="Sand loop <main>")
    root = Tree.fromstring(text)
    words = " ".join(element.text or "" for element in root.iter())
    for station in tower().stations:
        assert station.name in words and station.text in words
        for arm in (*station.comes, *station.leaves):
            assert arm.name in words and arm.text in words
    assert "once round in 4.1 h" in words and "Sand loop <main>" in words
    widths = [float(w) for w in re.findall(r'stroke-width="([\d.]+)"', text)]
    assert max(widths) == pytest.approx(14.0) and min(widths) >= 1.0
    assert "http" not in text.replace("http://www.w3.org/2000/svg", "")
