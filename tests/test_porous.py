"""Flow through stone: Ergun against an independent library, layers against closed forms."""

from __future__ import annotations

import math

import pytest
from fluids.packed_bed import Ergun
from hypothesis import given, settings
from hypothesis import strategies as st

from geo_site.porous import (
    GRAVITY_MS2,
    WATER_VISCOSITY_M2S,
    StoneLayer,
    ergun_gradient,
    sinking_velocity,
)

GRAVEL = StoneLayer(thickness_m=0.15, stone_size_m=0.03, porosity=0.40)
SILT = StoneLayer(thickness_m=0.02, stone_size_m=0.002, porosity=0.30)

sizes = st.floats(5e-4, 0.2)
porosities = st.floats(0.2, 0.6)


@settings(max_examples=200, deadline=None)
@given(size=sizes, porosity=porosities, speed=st.floats(1e-5, 0.5))
def test_ergun_against_fluids(size, porosity, speed):
    """`fluids.packed_bed.Ergun` gives a loss of pressure, Pa, over a length."""
    density = 998.2
    layer = StoneLayer(thickness_m=1.0, stone_size_m=size, porosity=porosity)
    pressure = Ergun(
        dp=size, voidage=porosity, vs=speed, rho=density, mu=WATER_VISCOSITY_M2S * density, L=1.0
    )
    assert ergun_gradient(speed, layer) == pytest.approx(
        pressure / (density * GRAVITY_MS2), rel=1e-9
    )


def test_ergun_by_hand():
    """Stones of 20 mm, voids 0.4, 0.1 m/s.

    150 x 1.004e-6 x 0.36 x 0.1 / (9.80665 x 0.064 x 4e-4) = 5.4216e-6 / 2.5105e-4 = 0.02160
    1.75 x 0.6 x 0.01 / (9.80665 x 0.064 x 0.02) = 0.0105 / 0.0125525 = 0.83649
    """
    layer = StoneLayer(thickness_m=1.0, stone_size_m=0.02, porosity=0.4)
    assert ergun_gradient(0.1, layer) == pytest.approx(0.02160 + 0.83649, rel=1e-4)


@settings(max_examples=100, deadline=None)
@given(
    size=sizes, fine=sizes, porosity=porosities, thick=st.floats(0.01, 0.5), head=st.floats(0, 0.3)
)
def test_heads_of_layers_add_up_to_what_drives(size, fine, porosity, thick, head):
    layers = [
        StoneLayer(thickness_m=0.02, stone_size_m=fine, porosity=porosity),
        StoneLayer(thickness_m=thick, stone_size_m=size, porosity=0.4),
    ]
    speed = sinking_velocity(layers, head)
    lost = sum(layer.thickness_m * ergun_gradient(speed, layer) for layer in layers)
    assert lost == pytest.approx(head + thick + 0.02, rel=1e-9)


def test_fine_grain_follows_darcy():
    """In fine grain the square term is nothing: v = K i with K = g n^3 d^2 / (150 nu (1-n)^2)."""
    fine = StoneLayer(thickness_m=0.5, stone_size_m=1e-4, porosity=0.4)
    conductivity = 9.80665 * 0.064 * 1e-8 / (150 * WATER_VISCOSITY_M2S * 0.36)
    assert sinking_velocity([fine], 0.25) == pytest.approx(conductivity * 1.5, rel=2e-3)


def test_coarse_stone_follows_the_square_root():
    """In coarse stone four times the drive gives twice the velocity."""
    rock = StoneLayer(thickness_m=0.1, stone_size_m=0.2, porosity=0.4)
    once, again = sinking_velocity([rock], 0.0), sinking_velocity([rock], 0.3)
    assert again / once == pytest.approx(2.0, rel=2e-2)


def test_fouling_slows_and_head_speeds():
    clean, fouled = sinking_velocity([GRAVEL], 0.0), sinking_velocity([SILT, GRAVEL], 0.0)
    assert fouled < clean
    assert sinking_velocity([SILT, GRAVEL], 0.05) > fouled
    halves = [StoneLayer(thickness_m=0.075, stone_size_m=0.03, porosity=0.40)] * 2
    assert sinking_velocity(halves, 0.0) == pytest.approx(clean)


@pytest.mark.parametrize(
    "refused",
    [
        lambda: StoneLayer(thickness_m=-0.1, stone_size_m=0.02, porosity=0.4),
        lambda: StoneLayer(thickness_m=math.inf, stone_size_m=0.02, porosity=0.4),
        lambda: StoneLayer(thickness_m=0.1, stone_size_m=0.0, porosity=0.4),
        lambda: StoneLayer(thickness_m=0.1, stone_size_m=0.02, porosity=1.0),
        lambda: StoneLayer(thickness_m=0.1, stone_size_m=0.02, porosity=0.0),
        lambda: sinking_velocity([], 0.1),
        lambda: sinking_velocity([GRAVEL], -0.1),
    ],
)
def test_nonsense_is_refused(refused):
    with pytest.raises(ValueError, match=r"m\b|porosity"):
        refused()
