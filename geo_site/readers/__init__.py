"""The doors in: files of strangers become a :class:`~geo_site.site.Site`, or are refused."""

from geo_site.readers import guards

guards.environment()  # before a format library is loaded by the modules below

from geo_site.readers.check import CheckRow, check_rows, missing  # noqa: E402
from geo_site.readers.plan_file import read_drawn  # noqa: E402
from geo_site.readers.site_file import read_settings, read_site  # noqa: E402
from geo_site.readers.spot import point_of  # noqa: E402
from geo_site.readers.sweep_grid import read_axis, read_grid  # noqa: E402

__all__ = [
    "CheckRow",
    "check_rows",
    "missing",
    "point_of",
    "read_axis",
    "read_drawn",
    "read_grid",
    "read_settings",
    "read_site",
]
