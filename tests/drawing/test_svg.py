"""The SVG chart is well-formed, self-contained and safe in black and white."""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import pairwise
from xml.etree import ElementTree

import pytest

from sandlab.drawing import ChartPicture, EventMark, Flag, chart_svg
from tests.drawing.samples import START, ZONE, compactability, ten_years

HOUR = 3_600_000_000
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


@pytest.mark.parametrize("apart", [0.0, 0.2, 1.0, 3.0, 9.0])
@pytest.mark.parametrize("first", [0.0, 30.0, 50.0, 59.0])
def test_words_of_events_never_touch(apart: float, first: float) -> None:
    """Close together, at either end: at 6 px a letter none overlaps another or leaves the picture."""
    events = tuple(
        EventMark(START + int((first + apart * number) * HOUR), f"ploughs and wheels cleaned {number}")
        for number in range(4)
    )
    root = parse(replace(compactability(), events=events))
    found = [one for one in root.iter(f"{SVG}text") if (one.text or "").startswith("plough")]
    rows: dict[str, list[tuple[float, float]]] = {}
    for one in found:
        start = float(one.get("x") or 0)
        rows.setdefault(one.get("y") or "", []).append((start, start + 6 * len(one.text or "")))
    spans = [sorted(row) for row in rows.values()]
    assert found, "the last one in the window always has its words"
    assert all(low >= 0 and high <= 720 for row in spans for low, high in row)
    assert all(one[1] <= other[0] for row in spans for one, other in pairwise(row))
    lozenges = [one.text for one in root.iter(f"{SVG}title")][1:]
    assert lozenges == [event.label for event in events if event.time <= START + 59 * HOUR]


def test_words_of_events_are_whole_where_there_is_room() -> None:
    """Two a few hours apart stand on two rows, both whole; one of two far apart does not need the second."""
    near = (
        EventMark(START + 20 * HOUR, "new clay lot of today"),
        EventMark(START + 23 * HOUR, "wear plates"),
    )
    far = (near[0], EventMark(START + 45 * HOUR, "wear plates"))
    for events, rows in ((near, 2), (far, 1)):
        root = parse(replace(compactability(), events=events))
        places = {one.text: one.get("y") for one in root.iter(f"{SVG}text")}
        assert len({places[event.label] for event in events}) == rows


def test_words_of_an_event_at_the_right_end_leave_those_of_the_levels_free() -> None:
    """The lower row ends at the plot's edge, since the highest level has its words beside it."""
    marks = (EventMark(START + 50 * HOUR, "ploughs cleaned"), EventMark(START + 58 * HOUR, "line stopped"))
    found = list(parse(replace(compactability(), events=marks)).iter(f"{SVG}text"))
    beside = min(float(one.get("x") or 0) for one in found if (one.text or "").startswith("reaction"))
    words = [one for one in found if one.get("font-size") == "10" and one.text != "baseline"]
    lower = [one for one in words if one.get("y") == "36.0"]
    assert lower
    assert all(float(one.get("x") or 0) + 6 * len(one.text or "") <= beside for one in lower)
    alone = parse(replace(compactability(), events=(EventMark(START + 58 * HOUR, "line stopped"),)))
    (one,) = [one for one in alone.iter(f"{SVG}text") if one.text == "line stopped"]
    assert one.get("y") == "36.0", "it is moved left rather than up to the heading"


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


def test_a_line_off_the_scale_has_an_arrow_beside_its_word() -> None:
    """Its word stands at the edge of the plot, where another value belongs."""
    near, far = compactability(), replace(compactability(), reaction_low=10.0, reaction_high=90.0)

    def arrows(picture: ChartPicture) -> int:
        return len(re.findall(r'd="M\d+ [\d.]+V[\d.]+M', chart_svg(picture, zone=ZONE)))

    assert (arrows(near), arrows(far)) == (0, 2)


def test_paths_use_only_what_the_printed_page_reads() -> None:
    """Moves are absolute: svg_print takes M L H V h v l z."""
    crossed = replace(compactability(), excluded=(3, 7))
    for points in re.findall(r' d="([^"]*)"', chart_svg(crossed, zone=ZONE)):
        assert set(re.findall("[A-Za-z]", points)) <= set("MLHVhvlz")
