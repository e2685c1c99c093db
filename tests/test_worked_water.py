"""The page on the water of the sample site: every line recomputed with a calculator's means.

The page is made from the plan (`python tests/test_worked_water.py` makes it again); each line is
worked out here by its own formula from the numbers as printed above it, and must give what the
program found.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from pathlib import Path

import pytest
from made_plans import sample_plan

from geo_site.plan import Plan

ROOT = Path(__file__).parent.parent
PAGE = ROOT / "docs" / "worked_water.md"
ALLOWED = {"sqrt": math.sqrt, "log10": math.log10, "pi": math.pi}


def plan() -> Plan:
    return sample_plan("hillside")


@dataclass(frozen=True)
class Line:
    """One line: a number that is given, or one that follows from those above."""

    name: str
    meaning: str
    unit: str
    value: float
    formula: str = ""
    tolerance: float = 0.005

    @property
    def printed(self) -> str:
        return f"{self.value:.5g}" if abs(self.value) < 1e4 else f"{self.value:.0f}"


def lines() -> list[tuple[str, list[Line]]]:
    """The chain, part by part."""
    proposal, settings = plan().proposal, plan().settings.water
    assert proposal is not None
    water, layout, design = proposal.water, proposal.layout, plan().design
    pipe, kept, running = water.lift.pipe, water.kept, water.running
    fall, lip = layout.falls[1], running.lips[2]
    pool, pooled = layout.pools[0], running.pools[0]
    laid, gravel = proposal.placement.arrangement, settings.intake
    assert water.pump is not None
    hollows = sum(p.depth_m * p.geometry.area for p in layout.pools)
    return [
        ("Flow", [
            Line("h", "head wanted on the spillway's lip", "m", settings.lip_head),
            Line("L", "width of the lip", "m", layout.falls[0].lip_width_m),
            Line("Q_w", "flow wanted, Francis", "m3/s", water.lift.flow_m3s, "1.8384 * L * h**1.5"),
            Line("Q", "flow that the pump gives on this lift (read off its curve, where it meets "
                 "the head H below)", "m3/s", water.flow_m3s),
            Line("H_p", "head of the pump at that flow, read off its curve", "m",
                 water.pump.head_m),
        ]),
        ("Pipe and lift", [
            Line("d", "inside diameter", "m", pipe.inside_diameter_m),
            Line("l", "length with risers", "m", pipe.length_m),
            Line("e", "roughness of the wall", "m", pipe.roughness_m),
            Line("nu", "viscosity of water", "m2/s", pipe.viscosity_m2s),
            Line("K", "sum of the fittings' losses", "-", pipe.loss_coefficient),
            Line("v", "velocity", "m/s", pipe.velocity_ms, "Q / (pi * d**2 / 4)"),
            Line("Re", "Reynolds number", "-", pipe.velocity_ms * pipe.inside_diameter_m
                 / pipe.viscosity_m2s, "v * d / nu"),
            Line("f", "friction factor, Swamee and Jain", "-", pipe.friction_loss_m
                 / (pipe.length_m / pipe.inside_diameter_m * pipe.velocity_ms**2 / 19.6133),
                 "0.25 / log10(e / (3.7 * d) + 5.74 / Re**0.9)**2", 0.02),
            Line("h_f", "lost along the pipe", "m", pipe.friction_loss_m,
                 "f * l / d * v**2 / (2 * 9.80665)", 0.02),
            Line("h_m", "lost in fittings", "m", pipe.minor_loss_m, "K * v**2 / (2 * 9.80665)"),
            Line("z_s", "water behind the spillway's lip", "m", water.spillway_level_m),
            Line("z_p", "lowest level of the pump", "m", water.lowest_level_m),
            Line("lift", "static lift", "m", water.static_lift_m, "z_s - z_p"),
            Line("H", "total head; the pump gives H_p", "m", water.total_head_m,
                 "lift + h_f + h_m"),
            Line("P", "power of the water", "W", water.pump.water_power_w,
                 "998.2 * 9.80665 * Q * H_p"),
        ]),
        ("Levels", [
            Line("L_2", "width of the lip of fall 2", "m", fall.lip_width_m),
            Line("E_2", "energy head over it, Francis turned round", "m", lip.energy_m,
                 "(Q / (1.8384 * L_2))**(2 / 3)"),
            Line("z_2", "level of that lip, the sill of pool 1", "m", pool.sill_level_m),
            Line("w_1", "water in pool 1", "m", pooled.water_level_m, "z_2 + E_2"),
        ]),
        ("Volumes", [
            Line("c", "fullness of a hollow", "-", settings.hollow_fullness),
            Line("DA", "depth times area, added over all hollows", "m3", hollows),
            Line("V_s", "standing water", "m3", water.standing_m3, "c * DA"),
            Line("V_m", "moving water, added over pools, riffles and falls", "m3",
                 water.moving_m3),
            Line("V_p", "water in the pipe, which runs back", "m3", kept.asked.pipe_m3,
                 "pi / 4 * d**2 * l"),
            Line("A_w", "wet area of stream and pools", "m2",
                 kept.losses.evaporation_m3_per_day / (kept.losses.evaporation_mm / 1000.0)),
            Line("ev", "evaporation of a hot day", "mm", kept.losses.evaporation_mm),
            Line("V_d", "lost in a day", "m3", kept.losses.loss_m3_per_day, "ev / 1000 * A_w"),
            Line("n_d", "days between fills", "-", settings.days_between_fills),
            Line("V_l", "lost until then", "m3", kept.asked.losses_m3, "V_d * n_d"),
            Line("V_r", "reserve: what rougher stone may add, or a fifth of what moves", "m3",
                 kept.asked.reserve_m3),
            Line("V_n", "needed", "m3", water.required_m3, "V_m + V_p + V_l + V_r"),
        ]),
        ("Basin", [
            Line("n", "void units", "-", float(laid.rows * laid.columns * design.layers)),
            Line("A_u", "water in all units for a metre of depth", "m2", kept.store.net_m2),
            Line("z_f", "full", "m", water.water_level_m),
            Line("z_b", "floor of the units", "m", kept.store.bottom_m),
            Line("V_b", "stored", "m3", water.stored_m3, "A_u * (z_f - z_b)"),
            Line("V_u", "usable", "m3", water.usable_m3, "A_u * (z_f - z_p)"),
            Line("z_r", "level while the pump runs", "m", water.running_level_m,
                 "z_f - (V_m + V_p) / A_u"),
            Line("room", "free room then, for what comes back", "m3", kept.check.free_room_m3,
                 "A_u * (z_f - z_r)", 0.02),
            Line("days", "days without rain", "-", kept.losses.days_without_rain,
                 "(V_u - V_m - V_p) / V_d"),
        ]),
        ("Return gravel", [
            Line("t_1", "fouled layer", "m", gravel.fouled_depth),
            Line("s_1", "its stones", "m", gravel.fouled_size),
            Line("p_1", "its porosity", "-", gravel.fouled_porosity),
            Line("t_2", "clean gravel under it", "m", max(design.cover_m - gravel.fouled_depth,
                                                          0.0)),
            Line("s_2", "its stones", "m", gravel.stone_size),
            Line("p_2", "its porosity", "-", gravel.stone_porosity),
            Line("u", "velocity at which water sinks (found by trying)", "m/s",
                 kept.intake.sinking_ms),
            Line("i_1", "head for a metre of fouled gravel, Ergun", "-", math.nan,
                 "150*1.004e-6*(1-p_1)**2*u/(9.80665*p_1**3*s_1**2) "
                 "+ 1.75*(1-p_1)*u**2/(9.80665*p_1**3*s_1)"),
            Line("i_2", "the same of clean gravel", "-", math.nan,
                 "150*1.004e-6*(1-p_2)**2*u/(9.80665*p_2**3*s_2**2) "
                 "+ 1.75*(1-p_2)*u**2/(9.80665*p_2**3*s_2)"),
            Line("drive", "head that drives it: the layers' height and what stands on them", "m",
                 gravel.fouled_depth + max(design.cover_m - gravel.fouled_depth, 0.0)
                 + gravel.head, "t_1 * i_1 + t_2 * i_2", 0.02),
            Line("A_n", "area needed", "m2", kept.intake.area_needed_m2, "Q / u"),
        ]),
    ]  # fmt: skip


def worked() -> dict[str, float]:
    """Every name with its number as printed; what has only a formula is worked out."""
    known: dict[str, float] = {}
    for _, part in lines():
        for line in part:
            value = line.value
            if math.isnan(value):
                value = float(eval(line.formula, {"__builtins__": {}}, {**ALLOWED, **known}))
            known[line.name] = float(f"{value:.5g}" if abs(value) < 1e4 else f"{value:.0f}")
            if line.unit == "m" and abs(value) > 50.0:  # a level: to the millimetre
                known[line.name] = round(value, 4)
    return known


def page() -> str:
    """The page as it must read."""
    known = worked()
    told = [
        "# The water of the sample site, by hand",
        "",
        "Every number of the water on `sample_data/hillside` that decides, in the order in which",
        "one follows from the other. What has no formula is given: measured on the layout, read",
        "off the pump's curve, or a setting. The rest can be followed with a pocket calculator;",
        "`tests/test_worked_water.py` does so each time the tests run.",
    ]
    for title, part in lines():
        told += ["", f"## {title}", "", "| name | what | formula | value | unit |",
                 "|---|---|---|--:|---|"]  # fmt: skip
        for line in part:
            value = known[line.name]
            formula = f"`{line.formula}`" if line.formula else ""
            told.append(f"| {line.name} | {line.meaning} | {formula} | {value:.7g} | {line.unit} |")
    return "\n".join(told) + "\n"


CASES = [(title, line) for title, part in lines() for line in part if line.formula]


@pytest.mark.parametrize(("title", "line"), CASES, ids=lambda v: getattr(v, "name", ""))
def test_each_line_follows_from_those_above(title: str, line: Line) -> None:
    known = worked()
    by_hand = float(eval(line.formula, {"__builtins__": {}}, {**ALLOWED, **known}))
    found = known[line.name]
    if line.unit == "m" and abs(found) > 50.0:  # a level
        assert by_hand == pytest.approx(found, abs=1.5e-3)
    else:
        assert by_hand == pytest.approx(found, rel=line.tolerance)


def test_the_pump_gives_what_the_system_asks() -> None:
    known = worked()
    assert known["H"] == pytest.approx(known["H_p"], rel=0.005)


def test_what_comes_back_has_room_and_what_is_needed_is_there() -> None:
    known = worked()
    assert known["room"] >= known["V_m"] + known["V_p"] - 1e-3
    assert known["V_u"] >= known["V_n"]


def test_the_page_says_so() -> None:
    text = PAGE.read_text(encoding="utf-8")
    assert text == page(), "run: python tests/test_worked_water.py"
    assert len(re.findall(r"^\| \w+ \|", text, re.M)) > 50


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8", newline="\n")
