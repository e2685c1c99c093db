"""Lines that contradict themselves or stand twice: said, refused, or counted once."""

from __future__ import annotations

import datetime

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made_sites import make_layer
from shapely.geometry import LineString
from site_files import GAS, SiteFolder, at_origin, write_vector

from geo_site.constraints import ConstraintParameters, position_of
from geo_site.errors import InputRefused
from geo_site.locate_quality import COLOUR_KINDS
from geo_site.readers import read_site
from geo_site.readers.line_faults import SAME_WITHIN_M, once_each, with_colours

EAST = LineString([(0.0, 0.0), (20.0, 0.0), (40.0, 5.0)])
DAY = datetime.date(2026, 5, 1)


def lines(*rows):
    return make_layer("utilities", [{"geometry": EAST, "kind": "gas", **row} for row in rows])


def test_utl_21_six_colours_mean_six_kinds():
    """UTL-21: the uniform colour code of the American Public Works Association."""
    assert dict(COLOUR_KINDS) == {
        "red": "electric", "yellow": "gas", "orange": "communication", "blue": "potable_water",
        "purple": "reclaimed_water", "green": "sewer",
    }  # fmt: skip
    for colour, kind in COLOUR_KINDS.items():
        kept, notes = with_colours(lines({"kind": kind, "colour": colour}), "f")
        assert (list(kept.kind), notes) == ([kind], ())
        told, notes = with_colours(lines({"id": "L", "kind": "unknown", "colour": colour}), "f")
        assert list(told.kind) == [kind]
        assert "L" in notes[0]
        other = next(k for k in COLOUR_KINDS.values() if k != kind)
        with pytest.raises(InputRefused, match=r"id L: .*contradict"):
            with_colours(lines({"id": "L", "kind": other, "colour": colour}), "f")


def test_a_line_twice_is_counted_once_with_the_worse_of_each_fact():
    first = {
        "id": "A", "diameter_m": 0.1, "quality_level": "QL-B1", "member": "Gas", "side": "public",
        "marked_on": DAY, "owner": "Gas", "shift_accuracy_m": 0.0,
    }  # fmt: skip
    second = {
        "id": "B", "diameter_m": 0.3, "quality_level": "QL-D", "member": "Gas", "side": "public",
        "owner": "Other", "shift_accuracy_m": 0.2,
    }  # fmt: skip
    for rows in ((first, second), (second, first)):
        kept, notes = once_each(lines(*rows))
        (one,) = kept.itertuples()
        assert one.id == rows[0]["id"]
        assert (one.diameter_m, one.quality_level, one.shift_accuracy_m) == (0.3, "QL-D", 0.2)
        assert (one.member, one.owner, one.marked_on) == ("Gas", None, None)
        assert notes == (
            f"{rows[0]['id']} and {rows[1]['id']} are one line: counted once as "
            f"{rows[0]['id']}, with the worse of each fact",
        )


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ({"member": "A"}, {"member": "B"}),
        ({"member": "A"}, {"member": None}),
        ({"member": "A", "side": "public"}, {"member": "A", "side": "private"}),
        ({"member": "A", "side": "private"}, {"member": "A", "side": None}),
    ],
)
def test_facts_that_differ_vouch_for_nothing(one, other):
    (row,) = once_each(lines(one, other))[0].itertuples()
    assert row.member is None
    if one.get("side") != other.get("side"):
        assert row.side is None


POSITIONS = st.fixed_dictionaries(
    {
        "quality_level": st.sampled_from(["QL-A", "QL-B2", "QL-D", None]),
        "uncertainty_m": st.sampled_from([np.nan, 0.1, 3.0]),
        "depth_m": st.sampled_from([np.nan, 0.5, 4.0]),
        "shift_accuracy_m": st.sampled_from([0.0, 0.4]),
    }
)


@given(POSITIONS, POSITIONS)
@settings(max_examples=60, deadline=None)
def test_the_one_left_is_never_better_known_than_either(one, other):
    both = lines({"id": "A", **one}, {"id": "B", **other})
    kept, _ = once_each(both)
    reach = [position_of(row, ConstraintParameters()).uncertainty_m for row in both.itertuples()]
    (left,) = kept.itertuples()
    assert position_of(left, ConstraintParameters()).uncertainty_m >= max(reach) - 1e-12
    assert list(kept.columns) == list(both.columns)
    numbers = both.select_dtypes("number").columns
    assert (kept.dtypes[numbers] == both.dtypes[numbers]).all()
    told = kept.iloc[0]
    assert all(told[n] is None or isinstance(told[n], str) for n in ("side", "member"))


def test_lines_of_two_kinds_or_apart_or_longer_stay_two():
    apart = LineString([(x, y + 2 * SAME_WITHIN_M) for x, y in EAST.coords])
    longer = LineString([*EAST.coords, (60.0, 5.0)])
    for second in ({"kind": "sewer"}, {"geometry": apart}, {"geometry": longer}):
        kept, notes = once_each(lines({"id": "A"}, {"id": "B", **second}))
        assert (list(kept.id), notes) == (["A", "B"], ())
    close = LineString([(x, y + 0.8 * SAME_WITHIN_M) for x, y in reversed(EAST.coords)])
    assert list(once_each(lines({"id": "A"}, {"id": "B", "geometry": close}))[0].id) == ["A"]
    thrice = once_each(lines({"id": "A"}, {"id": "B"}, {"id": "C"}))
    assert list(thrice[0].id) == ["A"]
    assert len(thrice[1]) == 2


def test_a_line_in_two_files_is_one_and_said(tmp_path):
    site = SiteFolder(tmp_path)
    write_vector(
        site.folder / "records.gpkg", [at_origin(GAS)],
        {"id": ["R1"], "kind": ["gas"], "diameter": [0.2], "quality_level": ["QL-D"]},
    )  # fmt: skip
    site.inputs["utilities"]["path"] = ["utilities.gpkg", "records.gpkg"]
    read = read_site(site.write())
    assert list(read.utilities.id) == ["G1"]
    assert list(read.utilities.quality_level) == ["QL-D"]
    notes = [note for r in read.records if r.name == "utilities" for note in r.notes]
    assert any("G1 and R1 are one line" in note for note in notes)


def test_a_ticket_is_read_whole(tmp_path):
    site = SiteFolder(tmp_path)
    site.document["ticket"] = {
        "as_of": "2026-05-10", "members": ["Gas", "Water"], "refreshed_on": "2026-05-05",
        "requested_on": "2026-05-01", "holidays": ["2026-05-25"], "state": "AL",
    }  # fmt: skip
    site.document["private_locate"] = {"by": "A", "covers": ["septic", "pet fence"]}
    read = read_site(site.write())
    assert read.ticket.members == ("Gas", "Water")
    assert read.ticket.refreshed_on == datetime.date(2026, 5, 5)
    assert read.ticket.holidays == (datetime.date(2026, 5, 25),)
    assert read.private_locate.covers == ("septic", "pet fence")
    site.document["ticket"].pop("holidays")
    assert read_site(site.write()).ticket.holidays is None
