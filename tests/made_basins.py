"""Basins in place, made in memory."""

from __future__ import annotations

from shapely.geometry import box

from geo_site.siting import BasinDesign, Placement, SitingParameters, design_basin

RIM_M = 100.0


def basin_of(units: int = 12, rows: int = 3, **settings) -> tuple[BasinDesign, Placement]:
    """So many units of 0.8 x 0.6 x 0.45 m in rows, rim at 100 m, first corner at (10, 2)."""
    siting = SitingParameters(units=units, **settings)
    design = design_basin(0.0, siting)
    columns, rest = divmod(units // siting.layers, rows)
    assert rest == 0, "rows of equal length"
    arrangement = type(design.arrangements[0])(
        rows=rows, columns=columns,
        length_m=columns * siting.unit_length, width_m=rows * siting.unit_width,
    )  # fmt: skip
    footprint = box(10.0, 2.0, 10.0 + arrangement.length_m, 2.0 + arrangement.width_m)
    floor = footprint.buffer(siting.overdig, join_style="mitre") if siting.overdig else footprint
    placement = Placement(
        x=footprint.centroid.x,
        y=footprint.centroid.y,
        rotation_deg=0.0,
        arrangement=arrangement,
        footprint=footprint,
        pit_floor=floor,
        excavation=floor.buffer(1.0),
        rim_level_m=RIM_M,
        floor_level_m=RIM_M - design.depth_m,
        greatest_depth_m=design.depth_m,
        score=1.0,
        marks={},
    )
    return design, placement
