"""The SVG chart is well-formed, self-contained and safe in black and white."""

from __future__ import annotations

import re
from dataclasses import replace
from xml.etree import ElementTree

import pytest

from sandlab.drawing import ChartPicture, EventMark, Flag, chart_svg
from tests.drawing.samples import START, ZONE, compactability, ten_years

SVG = "{http://www.w3.org/2000/svg}"


def parse(picture: ChartPicture) -> ElementTree.Element:
    """The chart as an XML tree."""
    return ElementTree.fromstring(chart_svg(picture, zone=ZONE))


def texts(picture: ChartPicture) -> list[str]:
    """All words on the chart."""
    return [element.text or "" for element in parse(picture).iter(f"{SVG}text")]


@pytest.mark.parametrize("picture", [compactability(), ten_years()])
def test_it_is_well_formed_and_needs_nothing_from_outside(picture: ChartPicture) -> None:
    root = parse(picture)
    assert root.tag == f"{SVG}svg"
    text = chart_svg(picture, zone=ZONE).replace("http://www.w3.org/2000/svg", "")
    assert not re.search(r"https?:|href|@import|url\(|<script|<image|nan", text)


def test_words_are_escaped_and_say_what_the_cells_say() -> None:
    picture = replace(compactability(), title="Clay <5 & up", events=(EventMark(START, "lot <7>"),))
    words = texts(picture)
    for word in (
        "Clay <5 & up [%]",
        "lot <7>",
        "upper 45.0",
        "lower 39.0",
        "tolerance 44.5",
        "reaction 37.0",
        "baseline",
    ):
        assert word in words


def test_every_kind_of_line_has_its_own_weight_and_dash() -> None:
    lines = [
        (element.get("stroke-width"), element.get("stroke-dasharray"))
        for element in parse(replace(compactability(), events=(), baselines=())).iter(f"{SVG}path")
        if element.get("stroke-width")
    ]
    assert len(set(lines)) == 5


def test_missing_tests_break_the_line() -> None:
    paths = [element.get("d") or "" for element in parse(compactability()).iter(f"{SVG}path")]
    series = max(paths, key=len)
    assert series.count("M") == 2
    assert series.count("M") + series.count("L") == 58


def test_an_alarm_is_a_filled_triangle_and_a_watch_a_hollow_one() -> None:
    flags = (Flag(5, 1, True), Flag(9, -1, False), Flag(12, 0, False))
    shapes = [
        (element.get("d"), element.get("fill"))
        for element in parse(replace(compactability(), flags=flags, events=())).iter(f"{SVG}path")
        if (element.get("d") or "").endswith("z")
    ]
    assert [fill for _, fill in shapes] == ["#ffffff", "#ffffff", "#8b1a1a"]
    assert len({(d or "").split("h")[-1] for d, _ in shapes}) == 3


def test_an_outlier_of_ninety_thousand_reaches_its_height() -> None:
    picture = ten_years()
    band = max((element.get("d") or "" for element in parse(picture).iter(f"{SVG}path")), key=len)
    tops = sorted(float(top) for top in re.findall(r"M\d+ ([\d.]+)V", band))
    assert tops[0] < tops[1] - 5
    assert len(band) < 20_000


def test_a_value_off_the_scale_is_written_out() -> None:
    values = compactability().values.copy()
    values[5] = 97.2
    assert "97.2" in texts(replace(compactability(), values=values))
