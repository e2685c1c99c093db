"""The door to a desktop GIS: one GeoPackage, style files, terrain rasters.

Question
    How does a plan reach a desktop GIS whole, styled and unambiguous?
In
    A :class:`geo_site.plan.Plan` and the catalogue of layers.
Out
    ``plan.gpkg``, ``styles/*.sld``, ``terrain/*.tif``.
Method
    Everything is written aside and moved in at the end; nothing is computed here.
Reference
    OGC 12-128r18 (GeoPackage 1.3.1), OGC 05-078r4 and 05-077r4 (styles), OGC 21-026 (COG).
"""

from geo_site.geopackage.rasters import write_terrain
from geo_site.geopackage.styles import write_styles
from geo_site.geopackage.writing import write_geopackage

__all__ = ["write_geopackage", "write_styles", "write_terrain"]
