"""Weirs: flow over sharp and broad lips."""

import math

import fluids
import pytest
from hypothesis import given
from hypothesis import strategies as st

from geo_site import weirs

FOOT = 0.3048
GPM = 6.30901964e-5
GPH = 1.0515033e-6


def test_an_inch_over_a_foot_of_lip():
    """WEI-01: Francis (EPA SWMM Reference Manual II, equation 6-18), head 1 in."""
    found = weirs.francis_flow(FOOT, 0.0254)
    assert found / FOOT**3 == pytest.approx(0.08011, rel=1e-3)
    assert found / GPM == pytest.approx(35.95, rel=1e-3)
    assert weirs.francis_flow(0.0254, 0.0254) / GPH == pytest.approx(179.8, rel=1e-3)


@pytest.mark.parametrize(
    ("inches", "gpm"), [(0.5, 12.71), (0.75, 23.35), (1.5, 66.05), (2, 101.70), (3, 186.83)]
)
def test_heads_over_a_foot_of_lip(inches, gpm):
    """WEI-02: Francis, flow for each foot of lip."""
    assert weirs.francis_flow(FOOT, inches * 0.0254) / GPM == pytest.approx(gpm, rel=1e-3)


def test_contracted_ends_take_from_the_width():
    """WEI-03: Francis with and without end contractions (SWMM equation 6-22), L 2 ft, H 0.5 ft."""
    suppressed = weirs.francis_flow(2 * FOOT, 0.5 * FOOT) / FOOT**3
    contracted = weirs.francis_flow(2 * FOOT, 0.5 * FOOT, 2) / FOOT**3
    assert suppressed == pytest.approx(2.3547, rel=1e-4)
    assert contracted == pytest.approx(2.2369, rel=1e-4)


def test_ideal_broad_lip():
    """WEI-09: broad-crested weir (critical flow), head 0.05 m: 19.06 L/s for a metre."""
    assert weirs.broad_crested_flow(1.0, 0.05) * 1000 == pytest.approx(19.06, rel=1e-3)
    assert weirs.critical_depth(weirs.broad_crested_flow(1.0, 0.05)) == pytest.approx(
        0.0333, abs=5e-5
    )
    assert pytest.approx(1.7046, abs=2e-4) == weirs.BROAD_COEFFICIENT


def test_critical_depth():
    """WEI-10: 0.010 m2/s (definition): 21.69 mm."""
    assert weirs.critical_depth(0.010) * 1000 == pytest.approx(21.69, abs=0.01)


def test_francis_is_near_the_standard_weir_of_an_independent_library():
    """WEI-01: Kindsvater-Carter over a high plate, where it is valid, within 3 %."""
    for head_m in (0.08, 0.15, 0.30):
        standard = fluids.Q_weir_rectangular_full_Kindsvater_Carter(h1=head_m, h2=3.0, b=2.0)
        assert weirs.francis_flow(2.0, head_m) == pytest.approx(standard, rel=0.03)


@given(st.floats(0.001, 0.5))
def test_critical_depth_has_the_least_energy(flow):
    """WEI-10: at critical depth the specific energy of a flow is least (definition)."""

    def energy(depth):
        return depth + (flow / depth) ** 2 / (2 * weirs.GRAVITY_MS2)

    critical = weirs.critical_depth(flow)
    assert energy(critical) == pytest.approx(1.5 * critical)
    assert energy(critical) < min(energy(0.9 * critical), energy(1.1 * critical))


@given(st.floats(0.05, 5.0), st.floats(1e-4, 0.5))
def test_head_and_flow_invert_each_other(width, head):
    sharp = weirs.francis_head(width, weirs.francis_flow(width, head))
    broad = weirs.broad_crested_head(width, weirs.broad_crested_flow(width, head))
    assert sharp == pytest.approx(head)
    assert broad == pytest.approx(head)


@given(st.floats(0.05, 5.0), st.floats(1e-4, 0.5))
def test_a_broad_lip_passes_less(width, head):
    ratio = weirs.broad_crested_flow(width, head) / weirs.francis_flow(width, head)
    assert 0.92 < ratio < 0.94


def test_no_head_no_flow():
    assert weirs.francis_flow(1.0, 0.0) == 0.0
    assert weirs.broad_crested_flow(1.0, 0.0) == 0.0
    assert weirs.francis_head(1.0, 0.0) == 0.0
    assert weirs.critical_depth(0.0) == 0.0


@pytest.mark.parametrize("bad", [-0.1, math.nan])
def test_absurd_sizes_are_refused(bad):
    for refused in (weirs.francis_flow, weirs.broad_crested_flow):
        with pytest.raises(ValueError, match="at least 0"):
            refused(1.0, bad)
        with pytest.raises(ValueError, match="at least 0"):
            refused(bad, 1.0)
    with pytest.raises(ValueError, match="greater than 0"):
        weirs.francis_head(bad, 0.01)
    with pytest.raises(ValueError, match="at least 0"):
        weirs.critical_depth(bad)


def test_a_head_wider_than_the_lip_is_refused():
    with pytest.raises(ValueError, match="too large"):
        weirs.francis_flow(0.1, 1.0, 2)
