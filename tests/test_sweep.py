"""A sweep gives what single runs give, and refuses what is no grid."""

from __future__ import annotations

import csv
import itertools
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pypdf
import pytest
from hypothesis import given
from hypothesis import strategies as st
from made_plans import proposed, without_place

from geo_site.bundle import write_sweep
from geo_site.cli import run
from geo_site.errors import OutputRefused, SettingRefused
from geo_site.plan import (
    Axis,
    Kept,
    Settings,
    Sweep,
    figures_of,
    graph_unit,
    propose,
    sweep,
    words_of,
)
from geo_site.readers import read_axis, read_grid
from geo_site.tables import sweep_lines

HEADS = Axis(key="water.lip_head", values=("15 mm", "30 mm"))
DEPTHS = Axis(key="siting.cover", values=(0.15, 0.30))


@pytest.fixture(scope="module")
def swept() -> Sweep:
    return sweep(proposed().site, (DEPTHS, HEADS))


# The grid as a person writes it.


def test_a_range_has_both_ends_and_even_steps() -> None:
    assert read_axis("water.lip_head=10..40mm").values == ("10 mm", "20 mm", "30 mm", "40 mm")
    assert read_axis("a.b=0.1..0.3/3").values == (0.1, 0.2, 0.3)
    assert read_axis("a.b=1in..2in/2").values == ("1 in", "2 in")
    assert read_axis("a.b=-1..1/3").values == (-1, 0, 1)


def test_the_unit_at_the_end_holds_for_all_before_it() -> None:
    """10 m of head, where 10 mm was meant, would be a different stream."""
    assert read_axis("water.lip_head=10,20mm").values == ("10 mm", "20 mm")
    assert read_axis("water.lip_head=1 in,20 mm").values == ("1 in", "20 mm")


def test_words_and_truth_are_values_too() -> None:
    assert read_axis("constraints.hand_dig=never,allowed").values == ("never", "allowed")
    assert read_axis("a.b=true,false").values == (True, False)


@given(low=st.integers(-1000, 1000), step=st.integers(1, 50), count=st.integers(2, 40))
def test_ranges_are_exact(low: int, step: int, count: int) -> None:
    """No rounding piles up along a range: hundredths come out as they are written."""
    first, last = Fraction(low, 100), Fraction(low + step * (count - 1), 100)
    values = read_axis(f"a.b={float(first)}..{float(last)}/{count}").values
    assert [float(v) for v in values] == [(low + step * i) / 100 for i in range(count)]


@pytest.mark.parametrize(
    "word",
    [
        "lip_head",
        "=3",
        "a.b=",
        "a.b=1,,2",
        "a.b=1..1",
        "a.b=1..2/1",
        "a.b=1m..2ft",
        "a.b=x..y",
        "a.b=1,1",
        "a.b=1..2/99999",
    ],
)
def test_what_is_no_axis_is_refused_in_one_line(word: str) -> None:
    with pytest.raises(SettingRefused) as refused:
        read_axis(word)
    assert "\n" not in str(refused.value)


def test_a_grid_names_each_setting_once() -> None:
    with pytest.raises(SettingRefused, match="twice"):
        read_grid(["a.b=1,2", "a.b=3"])
    with pytest.raises(SettingRefused, match="no setting"):
        read_grid([])


# The runs.


def test_each_run_is_what_a_single_run_gives(swept: Sweep) -> None:
    site = proposed().site
    assert [run.values for run in swept.runs] == list(
        itertools.product(DEPTHS.values, HEADS.values)
    )
    one = swept.runs[-1]
    tables = {
        **site.tables,
        "water": {"lip_head": "30 mm"},
        "siting": {**site.tables["siting"], "cover": 0.30},
    }
    assert one.figures == figures_of(propose(site, Settings.from_tables(tables)))
    assert one.settings == (0.30, 0.03)


def test_figures_move_the_way_they_must(swept: Sweep) -> None:
    """More head is more flow and more pump; more cover is a deeper pit and more soil."""
    shallow_low, shallow_high, deep_low, _ = swept.runs
    assert shallow_high.figures["flow_m3s"] > shallow_low.figures["flow_m3s"]
    assert shallow_high.figures["total_head_m"] > shallow_low.figures["total_head_m"]
    assert deep_low.figures["excavation_m3"] > shallow_low.figures["excavation_m3"]
    assert deep_low.figures["pit_depth_m"] > shallow_low.figures["pit_depth_m"] + 0.1


def test_a_step_is_worked_out_again_only_where_what_it_reads_has_changed() -> None:
    site, kept = proposed().site, Kept()
    steps: list[str] = []
    propose(site, progress=steps.append, kept=kept)
    assert "streams" in steps
    steps.clear()
    other = Settings.from_tables({**site.tables, "water": {"lip_head": 0.015}})
    propose(site, other, steps.append, kept=kept)
    assert "streams" not in steps
    deeper = {"siting": {**site.tables["siting"], "cover": 0.3}}
    propose(site, Settings.from_tables({**site.tables, **deeper}), steps.append, kept=kept)
    assert "streams" in steps


def test_a_run_without_a_plan_says_why() -> None:
    site = without_place().site
    found = sweep(site, (Axis(key="siting.units", values=(12, 16)),))
    assert [one.status for one in found.runs] == ["no_place", "no_place"]
    assert all(one.told and not one.figures for one in found.runs)


def test_settings_that_contradict_each_other_are_a_row() -> None:
    """Seven units do not make two equal layers; each of the values alone is possible."""
    units, layers = (
        Axis(key="siting.units", values=(6, 7)),
        Axis(key="siting.layers", values=(1, 2)),
    )
    found = {one.values: one for one in sweep(without_place().site, (units, layers)).runs}
    assert {values: one.status for values, one in found.items()} == {
        (6, 1): "no_place",
        (6, 2): "no_place",
        (7, 1): "no_place",
        (7, 2): "refused",
    }
    assert "equal layers" in found[7, 2].told


@pytest.mark.parametrize(
    ("axes", "words"),
    [
        ((Axis(key="water.lip_hed", values=(1,)),), "unknown setting water.lip_hed; valid there"),
        ((Axis(key="waters.lip_head", values=(1,)),), "unknown setting waters.lip_head"),
        ((Axis(key="water.lip_head", values=("3 cubits",)),), "cubits"),
        ((Axis(key="siting.units", values=(0,)),), "siting.units"),
        (
            (
                Axis(key="siting.units", values=tuple(range(2, 40))),
                Axis(key="siting.layers", values=(1, 2, 3)),
            ),
            "114 combinations, more than 100",
        ),
    ],
)
def test_what_cannot_be_run_is_refused_before_the_first_run(
    axes: tuple[Axis, ...], words: str
) -> None:
    begun: list[str] = []
    with pytest.raises(SettingRefused, match=words):
        sweep(without_place().site, axes, progress=begun.append)
    assert begun == []


# What is written.


def test_the_table_holds_every_run_and_figure(swept: Sweep, tmp_path: Path) -> None:
    write_sweep(swept, tmp_path / "out")
    with (tmp_path / "out" / "sweep.csv").open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) == len(swept.runs)
    for row, one in zip(rows, swept.runs, strict=True):
        assert float(row["water.lip_head [m]"]) == pytest.approx(one.settings[1])
        assert row["status"] == "proposed"
        for name, value in one.figures.items():
            assert float(row[name]) == pytest.approx(value, abs=6e-5)


def test_the_page_names_settings_and_figures_with_units(swept: Sweep, tmp_path: Path) -> None:
    write_sweep(swept, tmp_path / "out")
    words = pypdf.PdfReader(tmp_path / "out" / "sweep.pdf").pages[0].extract_text()
    for told in ("siting.cover [m]", "water.lip_head 15 mm", "total head, m", "excavation, m3"):
        assert told in words


def test_an_earlier_sweep_is_replaced_only_when_asked(swept: Sweep, tmp_path: Path) -> None:
    write_sweep(swept, tmp_path / "out")
    before = (tmp_path / "out" / "sweep.pdf").read_bytes()
    with pytest.raises(OutputRefused, match="overwrite"):
        write_sweep(swept, tmp_path / "out")
    write_sweep(swept, tmp_path / "out", overwrite=True)
    assert (tmp_path / "out" / "sweep.pdf").read_bytes() == before
    (tmp_path / "out" / "mine.txt").touch()
    with pytest.raises(OutputRefused, match=r"mine\.txt"):
        write_sweep(swept, tmp_path / "out", overwrite=True)


def test_lines_for_a_terminal_are_short(swept: Sweep) -> None:
    lines = list(sweep_lines(swept))
    assert len(lines) == len(swept.runs) + 1
    assert all(len(line) <= 60 for line in lines)
    assert "L/s" in lines[1]


def test_a_value_of_a_range_is_told_short(swept: Sweep) -> None:
    run = replace(swept.runs[0], values=("0.8333333333333334 in", 8))
    (_, line) = sweep_lines(replace(swept, runs=(run,)))
    assert line.startswith("0.8333 in, 8: fall ")


def test_lines_and_page_are_in_the_units_of_the_report(swept: Sweep, tmp_path: Path) -> None:
    """By hand: feet are 0.3048 m, gallons a minute 0.0630902 L/s, cubic yards 0.764555 m3."""
    us = replace(swept, site=replace(swept.site, report_units="us"))
    one = swept.runs[0].figures
    line = list(sweep_lines(us))[1]
    fall_ft, flow_gpm = one["fall_m"] / 0.3048, one["flow_m3s"] * 1000 / 0.0630902
    assert f"fall {fall_ft:.2f} ft, flow {flow_gpm:.1f} gpm" in line
    write_sweep(us, tmp_path / "us")
    words = pypdf.PdfReader(tmp_path / "us" / "sweep.pdf").pages[0].extract_text()
    for told in ("siting.cover [m]", "total head, ft", "excavation, yd3", "water needed, gal"):
        assert told in words
    name, unit = graph_unit("excavation_m3", "m3", "us")
    assert (name, one["excavation_m3"] / unit) == (
        "yd3", pytest.approx(one["excavation_m3"] / 0.764555, rel=1e-5)
    )  # fmt: skip


def test_the_command_refuses_an_unknown_name_and_writes_nothing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    site = Path(__file__).parent.parent / "sample_data" / "hillside" / "site.toml"
    target = tmp_path / "out"
    assert run(["sweep", str(site), "water.lip_hed=1,2mm", "-o", str(target), "-q"]) == 3
    assert "unknown setting water.lip_hed" in capsys.readouterr().err
    assert not target.exists()


def test_names_of_figures_tell_their_unit() -> None:
    for name in figures_of(proposed()):
        words, unit = words_of(name)
        assert words
        assert unit in ("-", "m", "m2", "m3", "m3/s")
