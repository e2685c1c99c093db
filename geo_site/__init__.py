"""Sites a recirculating stream on a private lot.

Reads parcel lines, a lidar terrain raster and marked utility lines; proposes where the buried
basin can go, lays out the stream, and writes GeoPackage layers::

    import geo_site

    site = geo_site.read_site("site.toml")
    plan = geo_site.propose(site)
    geo_site.write_geopackage(plan, "plan.gpkg")

The names below are imported when first used, so that ``import geo_site`` costs nothing.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

from geo_site.compiling import keep_compiled

if TYPE_CHECKING:
    from geo_site.bundle import write_plan
    from geo_site.geopackage import write_geopackage
    from geo_site.plan import Plan, Settings, assess, explain, propose, sweep
    from geo_site.readers import read_drawn, read_site
    from geo_site.site import Site
    from geo_site.webmap import write_webmap

__version__ = "0.1.0"

__all__ = [
    "Plan",
    "Settings",
    "Site",
    "__version__",
    "assess",
    "explain",
    "propose",
    "read_drawn",
    "read_site",
    "sweep",
    "write_geopackage",
    "write_plan",
    "write_webmap",
]

_HOMES = {
    "Plan": "plan",
    "Settings": "plan",
    "Site": "site",
    "assess": "plan",
    "explain": "plan",
    "propose": "plan",
    "read_drawn": "readers",
    "read_site": "readers",
    "sweep": "plan",
    "write_geopackage": "geopackage",
    "write_plan": "bundle",
    "write_webmap": "webmap",
}

keep_compiled()  # here, as every way to a compiled loop leads through here


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"module 'geo_site' has no attribute {name!r}")
    return getattr(import_module(f"geo_site.{_HOMES[name]}"), name)
