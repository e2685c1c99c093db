"""The one tree of errors, each with a plain sentence and an exit code.

::

    GeoSiteError
    ├── InputRefused      what was read cannot be used: file, layer, ids, the fault, the mend
    │   └── SettingRefused    a setting is unknown, absurd or contradicts another
    ├── OutputRefused     the target folder or file cannot be written as asked
    └── LibraryMissing    a library that this needs is not installed or does not load

A rule that fails (a basin too near a line, no place at all) is a row in the result, never
an exception: only input that cannot be used at all raises.
"""

from __future__ import annotations

from collections.abc import Sequence

__all__ = ["GeoSiteError", "InputRefused", "LibraryMissing", "OutputRefused", "SettingRefused"]


class GeoSiteError(Exception):
    """Base of everything that geo_site raises on purpose.

    Attributes
    ----------
    exit_code : int
        What the command line returns for it.
    """

    exit_code = 3


class InputRefused(GeoSiteError):
    """Input that cannot be used, told in one line.

    Parameters
    ----------
    fault : str
        What is wrong.
    remedy : str
        What would be right.
    file, layer : str, optional
        Where it was found, as the user wrote it.
    ids : sequence of str, optional
        The features concerned; at most eight are named, the rest counted.

    Examples
    --------
    >>> print(InputRefused("the polygon crosses itself at 12.0, 4.5", remedy="draw it again",
    ...                    file="parcels.gpkg", layer="lots", ids=["14"]))
    parcels.gpkg, layer lots, id 14: the polygon crosses itself at 12.0, 4.5; draw it again
    """

    def __init__(
        self,
        fault: str,
        *,
        remedy: str,
        file: str | None = None,
        layer: str | None = None,
        ids: Sequence[str] = (),
    ) -> None:
        self.fault = fault
        self.remedy = remedy
        self.file = file
        self.layer = layer
        self.ids = tuple(ids)
        super().__init__(_one_line(self))


class SettingRefused(InputRefused):
    """A setting that is unknown, out of range or in conflict with another."""


class OutputRefused(GeoSiteError):
    """The place to write to cannot be used; nothing was written."""


class LibraryMissing(GeoSiteError):
    """A library without which nothing can be computed; no input is at fault.

    Parameters
    ----------
    library : str
        Its name.
    why : str
        What needs it, and what was wrong.

    Examples
    --------
    >>> print(LibraryMissing("numba", "loops over terrain need it"))
    numba cannot be used: loops over terrain need it; install geo-site and its libraries anew
    """

    exit_code = 2

    def __init__(self, library: str, why: str) -> None:
        remedy = "install geo-site and its libraries anew"
        super().__init__(" ".join(f"{library} cannot be used: {why}; {remedy}".split()))


_IDS_NAMED = 8


def _one_line(refused: InputRefused) -> str:
    where = [refused.file or "", f"layer {refused.layer}" if refused.layer else ""]
    if refused.ids:
        named = ", ".join(refused.ids[:_IDS_NAMED])
        more = len(refused.ids) - _IDS_NAMED
        where.append(f"id {named}" + (f" and {more} more" if more > 0 else ""))
    place = ", ".join(part for part in where if part)
    told = f"{refused.fault}; {refused.remedy}"
    return " ".join((f"{place}: {told}" if place else told).split())
