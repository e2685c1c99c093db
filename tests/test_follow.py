"""A stream that a person drew: kept as it lies, on ground of known shape."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from made_sites import Surface, make_site
from shapely.geometry import LineString, Point
from test_layout import AT, LOT, SIZE, basin, ground

from geo_site.drawn import Drawn, DrawnFall, DrawnPool, DrawnReach
from geo_site.errors import InputRefused
from geo_site.layout import Followed, Layout, LayoutParameters, follow, lay_out

P = LayoutParameters()
NORTH = AT[1] + SIZE[1] / 2.0
SLOPE = 0.1


def rising(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Level 100 along the basin's north side, rising north."""
    return 100.0 + SLOPE * (y - NORTH) + 0.0 * x


def run(drawn: Drawn, surface: Surface = rising, parameters: LayoutParameters = P) -> Followed:
    site = make_site(surface, lot=LOT)
    terrain = cast("Any", SimpleNamespace(ground=site.terrain))
    return follow(site, terrain, ground(LOT), basin(site.terrain), drawn, parameters)


def line(*points: tuple[float, ...]) -> LineString:
    return LineString(points)


def rules(found: Followed) -> dict[str, float]:
    return {row.rule: row.found for row in found.breaches}


def stairs(*heights_m: float) -> tuple[LineString, tuple[DrawnReach, ...]]:
    """A straight stream south into the basin: pools of 2 m, a fall of a height after each."""
    y, level_m = NORTH + 2.2 * len(heights_m) + 1.5, 100.0 + sum(heights_m)
    points = [(30.0, y, level_m)]
    reaches = []
    for height_m in heights_m:
        first = points[-1]
        pool = (30.0, first[1] - 2.0, first[2])
        foot = (30.0, pool[1] - 0.2, pool[2] - height_m)
        reaches.append(DrawnReach(line=LineString([first, pool]), kind="pool"))
        reaches.append(DrawnReach(line=LineString([pool, foot]), kind="fall"))
        points += [pool, foot]
    end = (30.0, points[-1][1] - 2.0, points[-1][2] - 0.02)
    reaches.append(DrawnReach(line=LineString([points[-1], end]), kind="riffle"))
    return LineString([*points, end]), tuple(reaches)


# Levels that were drawn.


def test_drawn_levels_and_kinds_are_the_stream() -> None:
    """Counted by hand: 3 pools of 2 m, 3 falls of 0.2 m run, 2 m of riffle."""
    stream, reaches = stairs(0.2, 0.3, 0.25)
    found = run(Drawn(stream=stream, reaches=reaches)).layout
    assert found.alignment.equals_exact(stream, 0.0)
    assert found.length_m == pytest.approx(3 * 2.2 + 2.0)
    assert found.fall_m == pytest.approx(0.77)
    assert [reach.kind for reach in found.reaches] == ["pool", "fall"] * 3 + ["riffle"]
    assert [fall.height_m for fall in found.falls] == pytest.approx([0.2, 0.3, 0.25])
    assert [fall.station_m for fall in found.falls] == pytest.approx([2.0, 4.2, 6.4])
    assert [pool.to_m - pool.from_m for pool in found.pools] == pytest.approx([2.0] * 3)


def test_kinds_are_told_by_levels_where_there_are_none() -> None:
    stream, _ = stairs(0.2, 0.3, 0.25)
    found = run(Drawn(stream=stream)).layout
    assert [reach.kind for reach in found.reaches] == ["pool", "fall"] * 3 + ["riffle"]


def test_reaches_that_are_not_the_whole_line_do_not_count() -> None:
    stream, reaches = stairs(0.2, 0.3)
    found = run(Drawn(stream=stream, reaches=reaches[:-1])).layout
    assert [reach.kind for reach in found.reaches] == ["pool", "fall"] * 2 + ["riffle"]


def test_lips_pools_and_hollows_drawn_are_kept() -> None:
    stream, reaches = stairs(0.2, 0.3)
    first = Point(reaches[0].line.coords[-1])
    outline = Point(30.0, first.y + 1.0).buffer(0.8)
    drawn = Drawn(
        stream=stream,
        reaches=reaches,
        falls=(DrawnFall(lip=first, lip_width_m=0.37), DrawnFall(lip=Point(29.0, first.y))),
        pools=(DrawnPool(outline=outline, depth_m=0.25),),
    )
    found = run(drawn)
    assert found.layout.falls[0].lip_width_m == 0.37
    assert found.layout.falls[1].lip_width_m == P.lip_width
    assert found.layout.pools[0].geometry.equals_exact(outline, 0.0)
    assert found.layout.pools[0].depth_m == 0.25
    assert any("1 of the falls drawn" in note for note in found.notes)


def test_a_stream_that_was_laid_out_gives_itself_again() -> None:
    site = make_site(lambda x, y: 100.0 + 0.08 * y + 0.2 * np.sin(x / 5.0), lot=LOT)
    terrain = cast("Any", SimpleNamespace(ground=site.terrain))
    place = basin(site.terrain)
    laid = lay_out(site, terrain, ground(LOT), place, P)
    assert isinstance(laid, Layout)
    reaches = tuple(DrawnReach(line=r.line, kind=r.kind) for r in laid.reaches)
    pools = tuple(DrawnPool(outline=p.geometry, depth_m=p.depth_m) for p in laid.pools)
    drawn = Drawn(stream=laid.alignment, reaches=reaches, pools=pools)
    again = follow(site, terrain, ground(LOT), place, drawn, P)
    assert again.breaches == ()
    for name in ("fall_m", "length_m", "berm_m3", "stream_cut_m3", "berm_height_m", "sinuosity"):
        assert getattr(again.layout, name) == pytest.approx(getattr(laid, name), abs=1e-9), name
    assert np.array_equal(again.layout.bed_m, laid.bed_m)
    assert again.layout.dig.equals_exact(laid.dig, 1e-9)


# Levels that were not.


def test_a_line_without_levels_keeps_its_vertices_and_gets_a_bed() -> None:
    stream = line((27.0, NORTH + 9.0), (31.0, NORTH + 4.1), (30.0, NORTH - 0.6))
    found = run(Drawn(stream=stream))
    xy = shapely.get_coordinates(found.layout.alignment)
    for point in shapely.get_coordinates(stream):
        assert np.any(np.all(xy == point, axis=1))
    assert shapely.force_2d(found.layout.alignment).hausdorff_distance(stream) < 1e-9
    assert np.all(np.diff(found.layout.bed_m) <= 0.0)
    assert rules(found) == {}


def test_a_stream_uphill_is_told_and_gets_levels_anew() -> None:
    stream = line(
        (30.0, NORTH + 9.0, 100.5), (30.0, NORTH + 4.0, 101.1), (30.0, NORTH - 0.5, 100.0)
    )
    found = run(Drawn(stream=stream))
    assert rules(found)["uphill"] == pytest.approx(0.6)
    assert np.all(np.diff(found.layout.bed_m) <= 0.0)


def test_a_line_down_from_ground_too_low_breaks_least_fall_only() -> None:
    """From level ground no more than the berm can raise it: the first limit to be lifted."""
    tight = P.model_copy(update={"berm_limit": 0.2})
    stream = line((30.0, NORTH + 9.0), (30.0, NORTH - 0.6))
    found = run(Drawn(stream=stream), lambda x, _: np.full_like(x, 100.0), tight)
    assert set(rules(found)) == {"least_fall"}
    assert found.layout.fall_m < P.least_fall
    assert found.layout.berm_height_m <= 0.2 + 1e-9


@settings(max_examples=10, deadline=None, derandomize=True)
@given(
    points=st.lists(
        st.tuples(st.floats(2.0, 58.0), st.floats(2.0, 58.0)), min_size=2, max_size=6, unique=True
    ),
    slope=st.floats(-0.3, 0.3),
)
def test_any_line_gives_a_stream_or_a_refusal(
    points: list[tuple[float, float]], slope: float
) -> None:
    """Whatever is drawn: the line is kept and the bed never rises."""
    stream = LineString(points)
    try:
        found = run(Drawn(stream=stream), lambda x, y: 100.0 + slope * y + 0.3 * np.sin(x))
    except InputRefused:
        assert stream.length < 1e-3
        return
    xy = shapely.get_coordinates(found.layout.alignment)
    assert LineString(xy).hausdorff_distance(stream) < 1e-6
    assert np.all(np.diff(found.layout.bed_m) <= 1e-9)
    for row in found.breaches:
        assert np.isfinite(row.found)
        assert row.sentence


# What it breaks.


@pytest.mark.parametrize(
    ("heights_m", "rule", "found_m"),
    [
        ((0.9, 0.2), "greatest_fall_height", 0.9),
        ((0.2,), "least_length", 4.2),
        ((0.2, 0.01), "least_fall_height", 0.01),
    ],
)
def test_limits_are_told_with_what_was_found(
    heights_m: tuple[float, ...], rule: str, found_m: float
) -> None:
    stream, reaches = stairs(*heights_m)
    assert rules(run(Drawn(stream=stream, reaches=reaches)))[rule] == pytest.approx(found_m)


def test_a_bed_far_under_the_ground_breaks_the_cut_limit() -> None:
    stream, reaches = stairs(0.2, 0.3, 0.25)
    deep = shapely.transform(stream, lambda xyz: xyz - [0.0, 0.0, 1.5], include_z=True)
    found = run(Drawn(stream=deep, reaches=reaches))
    levels_m = shapely.get_coordinates(deep, include_z=True)
    cut_m = np.max(rising(levels_m[:, 0], levels_m[:, 1]) - levels_m[:, 2])
    assert rules(found)["cut_limit"] == pytest.approx(cut_m, abs=1e-6)


def test_pools_too_short_or_too_deep_are_told() -> None:
    stream, reaches = stairs(0.2, 0.3)
    outline = Point(30.0, reaches[0].line.centroid.y).buffer(0.5)
    used = P.model_copy(update={"least_pool_length": 2.5})
    drawn = Drawn(stream=stream, reaches=reaches, pools=(DrawnPool(outline=outline, depth_m=1.7),))
    found = rules(run(drawn, parameters=used))
    assert found["least_pool_length"] == pytest.approx(2.0)
    assert found["greatest_pool_depth"] == pytest.approx(1.7)


def test_a_stream_short_of_the_basin_is_told_and_kept() -> None:
    stream = line((30.0, NORTH + 9.0), (30.0, NORTH + 1.2))
    found = run(Drawn(stream=stream))
    assert rules(found)["ends_in_basin"] == pytest.approx(1.2)
    assert shapely.force_2d(found.layout.alignment).hausdorff_distance(stream) < 1e-9


def test_a_stream_that_crosses_itself_is_told() -> None:
    loop = line(
        (30, NORTH + 8), (34, NORTH + 5), (28, NORTH + 4), (32, NORTH + 8), (30, NORTH - 0.5)
    )
    assert "crosses_itself" in rules(run(Drawn(stream=loop)))


@pytest.mark.parametrize("levels", [True, False])
def test_a_stream_off_the_terrain_is_refused(levels: bool) -> None:
    stream = line((30.0, 200.0, 103.0), (30.0, NORTH - 0.5, 100.0))
    with pytest.raises(InputRefused, match="without terrain data"):
        run(Drawn(stream=stream if levels else shapely.force_2d(stream)))


def test_a_stream_without_length_is_refused() -> None:
    with pytest.raises(InputRefused, match="no length"):
        run(Drawn(stream=line((30.0, 30.0), (30.0, 30.0))))


def test_a_drawn_pipe_keeps_its_line_and_lies_below_ground_and_bed() -> None:
    stream, reaches = stairs(0.2, 0.3, 0.25)
    lip = stream.coords[0]
    pipe = LineString([(30.0, AT[1]), (33.0, AT[1]), (33.0, lip[1]), lip[:2]])
    found = run(Drawn(stream=stream, reaches=reaches, pipe=pipe)).layout
    laid = shapely.get_coordinates(found.pipe, include_z=True)
    assert LineString(laid[:, :2]).hausdorff_distance(pipe) < 1e-9
    assert np.all(laid[:, 2] <= rising(laid[:, 0], laid[:, 1]) - P.pipe_cover + 1e-6)
    assert not found.pipe_under_bed
