"""What ``geo-site check`` tells: what was read of each input, and what is not there.

In: a site. Out: rows and sentences; printing is the command line's.
"""

from __future__ import annotations

import datetime
from collections.abc import Callable
from dataclasses import dataclass
from math import isnan

from geo_site.site import InputRecord, Site

__all__ = ["CheckRow", "check_rows", "missing"]


@dataclass(frozen=True, kw_only=True)
class CheckRow:
    """One input as it was read.

    Attributes
    ----------
    name, path : str
        Which input, and its file as written.
    count : int
        Features kept, or cells.
    crs, unit : str
        As found in the file.
    extent : str
        West to east, south to north in the working CRS, m; "" for no features.
    modified : str
        Day of the file, ISO.
    age_days : int or None
        From that day to the ticket's ``as_of``; None where it is not given.
    notes : tuple of str
        What was assumed, mended or left out.
    """

    name: str
    path: str
    count: int
    crs: str
    unit: str
    extent: str
    modified: str
    age_days: int | None
    notes: tuple[str, ...]


def check_rows(site: Site) -> tuple[CheckRow, ...]:
    """Give one row for each file that was read.

    Parameters
    ----------
    site : Site
        From the reader.

    Returns
    -------
    tuple of CheckRow
        Parcel and terrain first.
    """
    return tuple(_row(record, site.ticket.as_of) for record in site.records)


def _row(record: InputRecord, as_of: datetime.date | None) -> CheckRow:
    west, south, east, north = record.extent
    return CheckRow(
        name=record.name,
        path=record.path,
        count=record.count,
        crs=record.crs,
        unit=record.unit,
        extent="" if isnan(west) else f"{west:.1f} to {east:.1f}, {south:.1f} to {north:.1f}",
        modified=record.modified,
        age_days=_age_days(record.modified, as_of),
        notes=record.notes,
    )


def _age_days(modified: str, as_of: datetime.date | None) -> int | None:
    if not modified or as_of is None:
        return None
    return (as_of - datetime.date.fromisoformat(modified)).days


def missing(site: Site) -> tuple[str, ...]:
    """Say what was not given, and what it would improve.

    Parameters
    ----------
    site : Site
        From the reader.

    Returns
    -------
    tuple of str
        Sentences, what matters to safety first.
    """
    return tuple(sentence for absent, sentence in _ABSENCES if absent(site))


def _no(name: str) -> Callable[[Site], bool]:
    return lambda site: site.layer(name).empty


def _lacks(name: str, column: str) -> Callable[[Site], bool]:
    return lambda site: not site.layer(name).empty and bool(site.layer(name)[column].isna().any())


_ABSENCES: tuple[tuple[Callable[[Site], bool], str], ...] = (
    (
        _no("utilities"),
        "No utility lines: every clearance to a buried line stays unknown; draw the marks and "
        "give them as inputs.utilities.",
    ),
    (
        lambda site: site.ticket.number == "",
        "No one-call ticket: no line can be told as cleared; give its number, dates and "
        "responses in [ticket].",
    ),
    (
        lambda site: site.ticket.number != "" and not site.ticket.responses,
        "The ticket has no responses: no line can be told as cleared; give them by member.",
    ),
    (
        lambda site: site.ticket.number != "" and site.ticket.valid_until is None,
        "The ticket has no valid_until: whether it still holds is unknown.",
    ),
    (
        lambda site: site.ticket.as_of is None,
        "No as_of day: the ticket's validity and the age of the files cannot be judged.",
    ),
    (
        lambda site: site.private_locate is None,
        "No private locate: lines past the meter are not marked by a public ticket, and may "
        "be there.",
    ),
    (
        _lacks("utilities", "quality_level"),
        "Lines without a quality level get the assumed uncertainty of the settings; a stated "
        "one narrows their buffer.",
    ),
    (
        _lacks("utilities", "diameter_m"),
        "Lines without a diameter are measured to their centre line; a diameter moves the "
        "distance to the outer edge.",
    ),
    (
        _no("overhead"),
        "No overhead lines: nothing keeps a boom or a tall load away from a wire.",
    ),
    (
        _no("septic"),
        "No septic parts or wells: the distances that a health code asks for are not kept.",
    ),
    (
        _no("structures"),
        "No structures: foundations are not kept clear of, and water runs through houses.",
    ),
    (_no("easements"), "No easements: works may be proposed on ground that others have rights to."),
    (
        lambda site: isnan(site.parcel_accuracy_m),
        "The accuracy of the parcel lines is unknown: distances to the boundary are as drawn; "
        "state inputs.parcel.accuracy.",
    ),
    (
        lambda site: isnan(site.rmse_z_m),
        "The vertical error of the terrain is unknown: how sure the fall is cannot be told; "
        "state inputs.terrain.rmse_z.",
    ),
    (
        lambda site: site.vertical_datum == "",
        "The vertical datum of the terrain is not stated: levels hold among themselves only.",
    ),
    (_no("trees"), "No trees: roots are not protected, and leaves are not counted."),
    (_no("access"), "No access point: whether a machine reaches a place is unknown."),
    (_no("views"), "No viewpoint: places are not ranked by how well they are seen."),
    (_no("power"), "No power point: the cable's length is not counted."),
    (_no("soils"), "No soils: slopes of the pit and swell are those of unknown soil."),
    (_no("water_bodies"), "No water bodies: buffers along streams and ponds are not kept."),
)
