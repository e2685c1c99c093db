"""Costs: amount times price, and nothing guessed where there is none."""

from __future__ import annotations

import csv
import math
from dataclasses import dataclass

import pytest
from hypothesis import given
from hypothesis import strategies as st

from geo_site.costs import CostSheet, cost_sheet
from geo_site.prices import Price, PriceList
from geo_site.tables.costs import COST_COLUMNS, write_costs


@dataclass(frozen=True)
class Row:
    """A row of a list of quantities."""

    group: str
    item: str
    amount: float
    unit: str
    is_cost: bool = True


LISTED = (
    Row("earth", "basin excavation", 10.0, "m3"),
    Row("earth", "hauled away", 0.0, "m3"),
    Row("stream", "bed stone", 4.0, "t"),
    Row("stream", "liner, stream", 20.0, "m2"),
)


def sheet_of(*prices: tuple[str, str, float], listed=LISTED, currency="EUR") -> CostSheet:
    rows = tuple(Price(item=i, unit=u, price=p, told=f"{p:g} per {u}") for i, u, p in prices)
    return cost_sheet(listed, PriceList(prices=rows, currency=currency))


WHOLE = (("basin excavation", "m3", 30.0), ("Bed Stone", "t", 50.0), ("liner, stream", "m2", 8.0))


def test_a_sheet_by_hand():
    """10 x 30 + 4 x 50 + 20 x 8 = 660; what is not needed needs no price."""
    sheet = sheet_of(*WHOLE)
    assert [row.cost for row in sheet.rows] == [300.0, 0.0, 200.0, 160.0]
    assert [(s.group, s.cost, s.is_complete) for s in sheet.subtotals] == [
        ("earth", 300.0, True),
        ("stream", 360.0, True),
    ]
    assert (sheet.total.cost, sheet.total.is_complete) == (660.0, True)
    assert sheet.unpriced == sheet.unused == ()
    assert sheet.rows[1].state == "none needed"


def test_what_has_no_price_makes_the_total_incomplete():
    sheet = sheet_of(*WHOLE[:2])
    assert (sheet.total.cost, sheet.total.is_complete) == (500.0, False)
    assert sheet.unpriced == ("liner, stream",)
    assert [s.is_complete for s in sheet.subtotals] == [True, False]
    assert sheet.rows[3].state == "no price"
    assert math.isnan(sheet.rows[3].cost)


def test_a_price_for_another_unit_is_not_used():
    """Stone by the cubic metre is no stone by the tonne."""
    sheet = sheet_of(*WHOLE[:1], ("bed stone", "m3", 50.0), WHOLE[2])
    assert sheet.rows[2].state == "other unit"
    assert math.isnan(sheet.rows[2].price)
    assert sheet.rows[2].note == "50 per m3"
    assert not sheet.total.is_complete


def test_what_is_told_besides_needs_no_price_but_may_have_one():
    told = [Row("stream", "falls", 4.0, "count", is_cost=False)]
    without, priced = sheet_of(listed=told), sheet_of(("falls", "count", 25.0), listed=told)
    assert (without.rows[0].state, without.total.cost) == ("no cost", 0.0)
    assert without.total.is_complete
    assert (priced.rows[0].state, priced.total.cost) == ("priced", 100.0)


def test_an_amount_that_is_not_known_has_no_cost():
    sheet = sheet_of(("pit", "m3", 30.0), listed=[Row("earth", "pit", math.nan, "m3")])
    assert sheet.rows[0].state == "unknown amount"
    assert (sheet.total.cost, sheet.total.is_complete) == (0.0, False)


def test_prices_that_nothing_asked_for_are_named_but_energy_is_not():
    sheet = sheet_of(*WHOLE, ("linner", "m2", 9.0), ("electricity", "kWh", 0.2))
    assert sheet.unused == ("linner",)


PRICED = st.lists(
    st.tuples(st.floats(0, 1e4), st.floats(0, 1e3), st.sampled_from(["a", "b"])), max_size=8
)


@given(PRICED)
def test_subtotals_add_up_to_the_total(rows):
    listed = [Row(group, f"item {n}", amount, "m3") for n, (amount, _, group) in enumerate(rows)]
    prices = [(f"ITEM {n}", "m3", price) for n, (_, price, _) in enumerate(rows)]
    sheet = sheet_of(*prices, listed=listed)
    by_hand = math.fsum(amount * price for amount, price, _ in rows)
    assert sheet.total.cost == pytest.approx(by_hand)
    assert math.fsum(s.cost for s in sheet.subtotals) == pytest.approx(by_hand)
    assert sheet.total.is_complete


@given(PRICED, st.data())
def test_a_missing_price_is_never_passed_over(rows, data):
    listed = [
        Row(group, f"item {n}", amount + 0.1, "m3") for n, (amount, _, group) in enumerate(rows)
    ]
    kept = [data.draw(st.booleans()) for _ in rows]
    prices = [(f"item {n}", "m3", row[1]) for n, row in enumerate(rows) if kept[n]]
    sheet = sheet_of(*prices, listed=listed)
    assert len(sheet.unpriced) == kept.count(False)
    assert sheet.total.is_complete == all(kept)


def test_the_file(tmp_path):
    sheet = sheet_of(*WHOLE[:2], ("=1+1", "m2", 1.0))
    path = write_costs(sheet, tmp_path / "costs.csv")
    with path.open(encoding="utf-8", newline="") as file:
        header, *rows = list(csv.reader(file))
    assert tuple(header) == COST_COLUMNS
    told = {row[1] if row[1] != "subtotal" else row[0]: row for row in rows}
    assert told["basin excavation"][2:8] == ["10", "m3", "30", "300", "EUR", "priced"]
    assert told["earth"][5:8] == ["300", "EUR", "complete"]
    assert told["stream"][5:] == ["200", "EUR", "incomplete", "without a price: liner, stream"]
    assert told["total"][5:] == ["500", "EUR", "incomplete", "without a price: liner, stream"]
    assert told["liner, stream"][4:8] == ["", "", "EUR", "no price"]
    assert rows[-1][1] == "'=1+1"
    assert rows[-1][7] == "unused"


def test_the_same_bytes_again(tmp_path):
    first = write_costs(sheet_of(*WHOLE), tmp_path / "a.csv").read_bytes()
    assert write_costs(sheet_of(*WHOLE), tmp_path / "b.csv").read_bytes() == first
