"""One line per refusal, with place, fault and mend."""

from __future__ import annotations

import pytest

from geo_site.cautions import CAUTIONS, NOT_A_LOCATE
from geo_site.errors import GeoSiteError, InputRefused, OutputRefused, SettingRefused


def test_place_fault_and_mend_in_one_line() -> None:
    told = str(InputRefused("is\nbad", remedy="mend it", file="a.gpkg", layer="l", ids=["1", "2"]))
    assert told == "a.gpkg, layer l, id 1, 2: is bad; mend it"


def test_without_a_place() -> None:
    assert str(InputRefused("bad", remedy="mend")) == "bad; mend"


def test_many_ids_are_counted() -> None:
    told = str(InputRefused("bad", remedy="mend", ids=[str(i) for i in range(11)]))
    assert "0, 1, 2, 3, 4, 5, 6, 7 and 3 more" in told


@pytest.mark.parametrize("kind", [InputRefused, SettingRefused, OutputRefused])
def test_one_tree_one_exit_code(kind: type[GeoSiteError]) -> None:
    assert issubclass(kind, GeoSiteError)
    assert kind.exit_code == 3


def test_cautions_cover_what_can_kill() -> None:
    text = " ".join(f"{subject} {sentence}" for subject, sentence in CAUTIONS).lower()
    for word in (
        "not a utility locate", "approximate", "call before you dig", "by hand", "private lines",
        "abandoned", "gas is smelled", "boundary survey", "lidar", "unprotected excavation",
        "overhead", "void units", "groundwater", "electrician", "engineer", "health code",
        "backflow", "neighbour", "arborist", "erosion", "drown", "permits", "local codes",
    ):  # fmt: skip
        assert word in (text + NOT_A_LOCATE.lower()), word
