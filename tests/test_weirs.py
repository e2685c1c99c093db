"""Weirs: flow over sharp and broad lips."""

import math

import fluids
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

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


def test_standard_plate_over_the_whole_width():
    """WEI-04: Kindsvater-Carter, h 0.3, p 0.4, b 2 m: 0.64156 m3/s, and the library agrees."""
    found = weirs.plate_flow(2.0, 0.3, 0.4)
    assert found == pytest.approx(0.64156, rel=1e-4)
    assert found == pytest.approx(
        fluids.Q_weir_rectangular_full_Kindsvater_Carter(h1=0.3, h2=0.4, b=2.0)
    )


def test_standard_plate_against_rehbock():
    """WEI-05: Rehbock gives 0.64869 m3/s there: Kindsvater-Carter is 1.1 % below."""
    rehbock = fluids.Q_weir_rectangular_full_Rehbock(h1=0.3, h2=0.4, b=2.0)
    assert rehbock == pytest.approx(0.64869, rel=1e-4)
    assert rehbock / weirs.plate_flow(2.0, 0.3, 0.4) == pytest.approx(1.011, abs=5e-4)


def test_standard_plate_in_feet():
    """WEI-06: L = B = 2 ft, h 0.5, p 1 ft: coefficient 3.420, 2.4364 cfs."""
    found = weirs.plate_flow(2 * FOOT, 0.5 * FOOT, FOOT) / FOOT**3
    assert found == pytest.approx(2.4364, rel=2e-3)
    effective_ft = (2 - 0.001 / FOOT) * (0.5 + 0.001 / FOOT) ** 1.5
    assert found / effective_ft == pytest.approx(3.420, abs=2e-3)


def test_the_table_of_the_standard_plate_is_consistent():
    """WEI-08: (2/3) sqrt(2 g) of 0.602 and 0.075 in ft are the table's last row, 3.220, 0.400."""
    for height in (0.2, 0.4, 1.0):
        nearly_whole = weirs.plate_flow(2.0, 0.2, height, 2.0 + 1e-9)
        assert nearly_whole == pytest.approx(weirs.plate_flow(2.0, 0.2, height), rel=2e-3)


def test_a_contracted_plate_by_hand():
    """WEI-06: the table's row of half the width (USBR): C1 0.0612, C2 3.173, kb 0.010 ft.

    L 1 ft in 2 ft, h 0.4, p 0.8 ft: C = 0.0306 + 3.173 = 3.2036; 1.010 x (0.40328)^1.5 =
    0.25866; Q = 0.82865 cfs.
    """
    found = weirs.plate_flow(FOOT, 0.4 * FOOT, 0.8 * FOOT, 2 * FOOT) / FOOT**3
    assert found == pytest.approx(0.82865, rel=1e-4)


@given(st.floats(0.02, 0.5), st.floats(25.0, 100.0))
def test_a_notch_is_the_sum_of_its_strips(head, angle):
    """WEI-11: orifice law summed over a V's width (arithmetic), 0.58 of it."""

    def strip(z):
        width = 2 * z * math.tan(math.radians(angle) / 2)
        return 0.58 * width * math.sqrt(2 * weirs.GRAVITY_MS2 * (head + 0.00085 - z))

    whole, _ = quad(strip, 0.0, head + 0.00085)
    assert weirs.notch_flow(head, angle) == pytest.approx(whole, rel=1e-6)


@pytest.mark.parametrize("head_ft", [0.2, 0.5, 1.0, 1.25])
def test_a_right_notch_against_the_manual(head_ft):
    """WEI-11: USBR (from memory) 2.49 H^2.48 and SWMM's 2.5 H^2.5, in ft."""
    found = weirs.notch_flow(head_ft * FOOT) / FOOT**3
    assert found == pytest.approx(2.49 * head_ft**2.48, rel=0.02)
    assert found == pytest.approx(2.5 * head_ft**2.5, rel=0.04)


def test_villemonte_by_hand():
    """WEI-12: H1 0.10, H2 0.05 above the crest: 1 - 0.5^1.5 = 0.64645; ^0.385: 0.84539."""
    assert weirs.villemonte_factor(0.10, 0.05) == pytest.approx(0.84539, abs=1e-5)
    # measured from the floor, 0.2 m lower, the same levels would give 0.9
    assert weirs.villemonte_factor(0.30, 0.25) == pytest.approx(0.57, abs=0.01)
    assert weirs.villemonte_factor(0.10, -0.2) == 1.0
    assert weirs.villemonte_factor(0.10, 0.12) == 0.0


@given(st.floats(0.01, 0.5), st.floats(0.0, 0.999))
def test_broad_lips_under_water_keep_their_energy(head, share):
    """WEI-12: level of the tail on the crest, energy as before: q = H2 sqrt(2 g (H1 - H2))."""
    factor = weirs.broad_submerged_factor(head, share * head)
    crest = max(share, 2 / 3) * head
    flow = crest * math.sqrt(2 * weirs.GRAVITY_MS2 * (head - crest))
    assert weirs.broad_crested_flow(1.0, head) * factor == pytest.approx(flow)


LIPS = st.builds(
    lambda form, width, wider, height, ends: weirs.Lip(
        form=form,
        width_m=width,
        channel_width_m=width * wider,
        height_m=height,
        contracted_ends=ends,
    ),
    st.sampled_from(["sharp", "broad", "notch"]),
    st.floats(0.2, 2.0),
    st.floats(1.0, 2.0),
    st.sampled_from([0.0, 0.05, 0.2, 1.0]),
    st.sampled_from([0, 1, 2]),
)


@settings(deadline=None)
@given(LIPS, st.floats(0.002, 0.1), st.floats(-0.5, 0.95))
def test_the_energy_a_lip_needs_gives_the_flow_back(lip, head, tail_share):
    """WEI-13: a head gives a flow; that flow needs the energy of that head (definition)."""
    tail = tail_share * head
    flow = weirs.lip_flow(lip, head, tail)
    depth = lip.height_m + head
    speed = flow / (lip.channel_width_m * depth)
    if speed > 0.95 * math.sqrt(weirs.GRAVITY_MS2 * depth):
        return  # the water before the lip is at its most: the lip is no control
    energy = weirs.lip_energy(lip, flow, tail)
    expected = head + speed**2 / (2 * weirs.GRAVITY_MS2)
    near_limit = weirs.formula_of(lip, head) != weirs.formula_of(lip, energy)
    assert energy == pytest.approx(expected, rel=0.03 if near_limit else 1e-6)


@settings(deadline=None)
@given(LIPS, st.floats(1e-4, 0.05), st.floats(0.0, 0.2))
def test_water_below_never_lowers_the_water_above(lip, flow, tail):
    free = weirs.lip_energy(lip, flow)
    held = weirs.lip_energy(lip, flow, tail)
    near_limit = weirs.formula_of(lip, free) != weirs.formula_of(lip, held)
    assert held >= max(free * (0.97 if near_limit else 1 - 1e-9), tail)


def test_velocity_of_the_water_before_a_lip_adds_flow():
    """WEI-13: by hand. Broad lip 1 m in 1 m, floor 0.05 m below, head 0.05 m: Q 0.01967 m3/s.

    V = 0.01967 / 0.10 = 0.1967; V^2/2g = 0.00197; 1.7046 x 0.05197^1.5 = 0.02020. Again:
    0.00208, 0.02026; 0.00209, 0.02027.
    """
    lip = weirs.Lip(form="broad", width_m=1.0, channel_width_m=1.0, height_m=0.05)
    assert weirs.lip_flow(lip, 0.05) == pytest.approx(0.02027, abs=1e-5)
    deep = weirs.Lip(form="broad", width_m=1.0, channel_width_m=1.0, height_m=50.0)
    assert weirs.lip_flow(deep, 0.05) == pytest.approx(0.01906, abs=1e-5)


def test_limits_of_the_formulas_are_told():
    def lip(**changes):
        given = {"form": "sharp", "width_m": 0.6, "channel_width_m": 0.9}
        return weirs.Lip(**{**given, **changes})

    assert weirs.greatest_head(lip()) == math.inf
    assert weirs.greatest_head(lip(contracted_ends=2)) == pytest.approx(0.2)
    assert weirs.greatest_head(lip(height_m=0.15)) == pytest.approx(0.30)
    assert weirs.greatest_head(lip(form="notch")) == pytest.approx(0.3)
    assert weirs.formula_of(lip(height_m=0.15), 0.05) == "Kindsvater-Carter"
    for other in (lip(), lip(height_m=0.05), lip(height_m=0.15, contracted_ends=1)):
        assert weirs.formula_of(other, 0.05) == "Francis"
    assert weirs.formula_of(lip(height_m=0.15), 0.02) == "Francis"


@given(st.floats(1e-3, 0.2), st.floats(0.01, 0.2), st.sampled_from(["sharp", "broad"]))
def test_the_least_width_carries_the_flow(flow, head, form):
    one = weirs.Lip(form=form, width_m=0.1, channel_width_m=10.0, contracted_ends=0)
    width = weirs.least_width(one, flow, head)
    wide = weirs.Lip(form=form, width_m=width, channel_width_m=max(width, 10.0))
    assert weirs.lip_energy(wide, flow) == pytest.approx(head)


def test_how_sure_a_flow_is():
    def ends(form, head):
        return weirs.flow_range(weirs.Lip(form=form, width_m=1.0, channel_width_m=1.0), head)

    for form in ("sharp", "broad", "notch"):
        assert ends(form, 0.059) == (0.8, 1.2)
        low, high = ends(form, 0.061)
        assert 0.8 < low < 1.0 <= high < 1.2
    # 2.6 to 3.1 ft of a stone lip against 3.33 of a sharp one
    assert ends("sharp", 0.1)[0] == pytest.approx(3.0876 / 3.33, abs=1e-3)


def test_absurd_lips_are_refused():
    with pytest.raises(ValueError, match="widths"):
        weirs.Lip(form="sharp", width_m=0.0, channel_width_m=1.0)
    with pytest.raises(ValueError, match="wider"):
        weirs.plate_flow(2.0, 0.1, 0.2, 1.0)
    with pytest.raises(ValueError, match="above the floor"):
        weirs.plate_flow(2.0, 0.1, 0.0)
    with pytest.raises(ValueError, match="180"):
        weirs.notch_flow(0.1, 180.0)
    for refused in (weirs.villemonte_factor, weirs.broad_submerged_factor):
        with pytest.raises(ValueError, match="greater than 0"):
            refused(0.0, 0.1)
