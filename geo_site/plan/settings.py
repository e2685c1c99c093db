"""Every setting of every step, in one typed table."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from geo_site.access import AccessParameters
from geo_site.certainty import CertaintyParameters
from geo_site.constraints import ConstraintParameters
from geo_site.earthwork import EarthworkParameters
from geo_site.errors import SettingRefused
from geo_site.layout import LayoutParameters
from geo_site.locate_request import LocateRequestParameters
from geo_site.parameters import Parameters, SettingRow, describe, read_table
from geo_site.plan.relaxing_parameters import RelaxingParameters
from geo_site.quantities import QuantityParameters
from geo_site.ranking import RankingParameters
from geo_site.siting import SitingParameters
from geo_site.terrain import TerrainParameters
from geo_site.water import WaterParameters

__all__ = ["Settings"]


class Settings(Parameters):
    """Every setting of every step, a table each."""

    terrain: TerrainParameters = TerrainParameters()
    constraints: ConstraintParameters = ConstraintParameters()
    access: AccessParameters = AccessParameters()
    siting: SitingParameters = SitingParameters()
    layout: LayoutParameters = LayoutParameters()
    water: WaterParameters = WaterParameters()
    earthwork: EarthworkParameters = EarthworkParameters()
    quantities: QuantityParameters = QuantityParameters()
    ranking: RankingParameters = RankingParameters()
    locate_request: LocateRequestParameters = LocateRequestParameters()
    relaxing: RelaxingParameters = RelaxingParameters()
    certainty: CertaintyParameters = CertaintyParameters()

    @classmethod
    def from_tables(cls, tables: Mapping[str, Any], *, file: str | None = None) -> Settings:
        """Read the settings tables of a site file.

        Parameters
        ----------
        tables : mapping
            Table name to what the user wrote.
        file : str, optional
            Named in the refusal.

        Raises
        ------
        SettingRefused
            An unknown table or key, or a value that cannot be.
        """
        unknown = sorted(set(tables) - set(cls.model_fields))
        if unknown:
            raise SettingRefused(
                f"unknown table [{unknown[0]}]",
                remedy=f"valid: {', '.join(sorted(cls.model_fields))}",
                file=file,
            )
        return read_table(cls, tables, table="", file=file)

    def rows(self) -> tuple[SettingRow, ...]:
        """Every setting with value, unit, meaning and source."""
        return tuple(describe(self))
