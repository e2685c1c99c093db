"""Settings of how sure the answer is."""

from __future__ import annotations

from typing import Literal, Self

from pydantic import model_validator

from geo_site.parameters import Metres, Parameters, setting

__all__ = ["CertaintyParameters"]

_OURS = "our choice"


class CertaintyParameters(Parameters):
    """How sure the answer is: the terrain's error, the lines' error, and what measuring tells."""

    simulations: int = setting(
        100,
        unit="-",
        meaning="grounds that are drawn; 0 leaves out everything about how sure the answer is",
        source=_OURS,
        within="[0, 100000]",
    )
    seed: int = setting(
        1, unit="-", meaning="start of the generator", source=_OURS, within="[0, inf)"
    )
    most_cells: float = setting(
        6.0e7,
        unit="-",
        meaning="cells times simulations; a larger window of terrain gets fewer simulations",
        source=_OURS,
        within="(0, inf)",
    )
    threads: int = setting(
        2, unit="-", meaning="simulations at a time; changes no figure", source=_OURS,
        within="[1, 64]",
    )  # fmt: skip
    assumed_rmse_z: Metres = setting(
        0.20,
        unit="m",
        meaning="vertical error of the terrain while nobody states it; nothing is asserted by it",
        source="our assumption: twice that of lidar of quality level 2",
        within="[0, 10]",
    )
    covariance: Literal["exponential", "gaussian"] = setting(
        "gaussian",
        unit="-",
        meaning="how the likeness of errors falls with distance",
        source="our choice of the two in Oksanen and Sarjakoski (2005) (abstract, a "
        "transcription): an exponential one makes smooth lidar ground rough",
    )
    correlation_range: Metres = setting(
        15.0,
        unit="m",
        meaning="practical range: where the likeness of errors has fallen to 5 %; 0: every cell's "
        "error is its own",
        source="our assumption, short on purpose: a drop over 8 m is then as unsure as by an "
        "exponential 30 m, the least range above 0 in Oksanen and Sarjakoski (2005)",
        within="[0, 300]",
    )
    nugget_share: float = setting(
        0.01,
        unit="-",
        meaning="of the error's variance, what a cell shares with no other",
        source="our assumption: 1 cm of 10; of three open lidar rasters of 1 m two are that rough",
        within="[0, 1]",
    )
    bias_share: float = setting(
        0.0,
        unit="-",
        meaning="of the error's variance, what the whole lot shares; no drop feels it",
        source="our choice: a drop is then least sure",
        within="[0, 1]",
    )
    detail_share: float = setting(
        0.5,
        unit="-",
        meaning="variance of the detail that the terrain's cells hide, over that which cells twice "
        "as wide hide besides; 0: cells hide nothing",
        source="measured on six open lidar rasters of 0.5 to 2 m: from one halving of the cells to "
        "the next 0.2 to 0.6 of the variance are left, in the mean 0.34, and the halvings after it "
        "add up to half",
        within="[0, 10]",
    )
    dug_error: Metres = setting(
        0.03,
        unit="m",
        meaning="standard deviation of the level to which a pit's floor is dug",
        source="common practice, no source: a small machine's bucket, checked with a level, leaves "
        "a floor within 6 cm nineteen times in twenty",
        within="[0, 1]",
    )
    line_range: Metres = setting(
        30.0,
        unit="m",
        meaning="along a line, where the likeness of its sideways error has fallen to 5 %",
        source="our assumption",
        within="[0, 10000]",
    )
    shortfall: Metres = setting(
        0.15,
        unit="m",
        meaning="of the fall wanted, what may lack without the plan being drawn again",
        source="common practice, no source",
        within="[0, 5]",
    )
    level_error: Metres = setting(
        0.01,
        unit="m",
        meaning="standard deviation of a level or drop measured on site",
        source="common practice, no source: a builder's level over a short distance",
        within="[0, 1]",
    )
    exposed_error: Metres = setting(
        0.025,
        unit="m",
        meaning="standard deviation of the place of a line that was laid bare",
        source="half of 0.05 m, PAS 128:2022 table 1 (a transcription), read as 95 %",
        within="[0, 1]",
    )
    cost_of_failing: float = setting(
        1.0,
        unit="-",
        meaning="what a plan costs that is begun and fails, in plans that work",
        source=_OURS,
        within="(0, 1000]",
    )

    @model_validator(mode="after")
    def _shares_fit(self) -> Self:
        if self.nugget_share + self.bias_share > 1.0:
            raise ValueError("nugget_share and bias_share are more than 1 together")
        return self
