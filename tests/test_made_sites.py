"""The sites that tests are made of are what they say."""

from __future__ import annotations

import numpy as np
import pytest
from made_sites import LOT, ORIGIN, make_layer, make_site, plane
from shapely.geometry import LineString


def test_a_site_has_every_input_and_its_ground_is_the_surface():
    site = make_site(plane(0.02, -0.1), utilities=[{"geometry": LineString([(0, 5), (40, 5)])}])
    assert site.parcel.area == 1200.0
    assert site.terrain.shape == (70, 80)
    x, y = site.terrain.centres()
    assert np.allclose(site.terrain.values, 100.0 + 0.02 * x[None, :] - 0.1 * y[:, None])
    assert list(site.utilities["id"]) == ["utilities-1"]
    assert np.isnan(site.utilities["diameter_m"].iloc[0])
    assert len(site.trees) == 0


def test_an_origin_moves_ground_and_objects_alike():
    here = make_site("bowl", fixtures=[{"geometry": LOT.centroid}])
    there = make_site("bowl", fixtures=[{"geometry": LOT.centroid}], origin=ORIGIN)
    assert np.array_equal(here.terrain.values, there.terrain.values)
    assert there.terrain.transform.c - here.terrain.transform.c == ORIGIN[0]
    assert there.fixtures.geometry.iloc[0].x - here.fixtures.geometry.iloc[0].x == ORIGIN[0]
    assert there.parcel.bounds[0] == ORIGIN[0]


def test_a_column_that_does_not_exist_is_refused():
    with pytest.raises(KeyError, match="diametre_m"):
        make_layer("utilities", [{"geometry": LineString([(0, 0), (1, 0)]), "diametre_m": 1.0}])
