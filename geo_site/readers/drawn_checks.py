"""What drawn works must be before anything is worked out from them.

In: the shapes of one layer in the working CRS. Out: nothing, or a refusal with the ids.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from shapely import LineString, Polygon

from geo_site.errors import InputRefused
from geo_site.raster import Raster
from geo_site.readers.drawn_layers import Shape

__all__ = ["SINGLE", "Place", "check_shapes"]

SINGLE = frozenset({"basin", "stream_alignment", "pipe_run", "spoil_pile", "spillway"})
"""Works that may be there once."""
_NO_HOLES = frozenset({"basin", "spoil_pile", "stream_pools"})


@dataclass(frozen=True, kw_only=True)
class Place:
    """Where shapes were read, for the message.

    Attributes
    ----------
    file : str
        As the user wrote it.
    layer : str or None
        Layer of the file.
    """

    file: str
    layer: str | None


def check_shapes(work: str, shapes: Sequence[Shape], terrain: Raster, place: Place) -> None:
    """Refuse what cannot be one work on this terrain.

    Parameters
    ----------
    work : str
        Layer of a plan, or ``spillway``, ``keep_off``, ``must_pass``.
    shapes : sequence of Shape
        In the working CRS.
    terrain : Raster
        Levels of the site.
    place : Place
        Where they were read.

    Raises
    ------
    InputRefused
        Two of what may be there once, a hole, no size, or outside the terrain.
    """
    if work in SINGLE and len(shapes) > 1:
        numbers = [shape.number for shape in shapes]
        what = f"{len(shapes)} features" if len(set(numbers)) > 1 else f"{len(shapes)} parts"
        raise _refusal(f"{what}, and there is one {_spoken(work)}", _KEEP_ONE, place, shapes)
    holed = [s for s in shapes if isinstance(s.geometry, Polygon) and s.geometry.interiors]
    if holed and work in _NO_HOLES:
        raise _refusal("the area has a hole", "draw it without", place, holed)
    flat = [shape for shape in shapes if _has_no_size(shape)]
    if flat:
        raise _refusal("it has no size", "draw it again or delete it", place, flat)
    outside = [shape for shape in shapes if not shape.geometry.intersects(terrain.outline)]
    if outside and work != "keep_off":
        remedy = "move it onto the lot, or correct the layer's CRS"
        raise _refusal("it lies outside the terrain", remedy, place, outside)


_KEEP_ONE = "delete all but one"


def _spoken(work: str) -> str:
    return {"stream_alignment": "stream", "pipe_run": "pipe"}.get(work, work.replace("_", " "))


def _has_no_size(shape: Shape) -> bool:
    one = shape.geometry
    if isinstance(one, Polygon):
        return bool(one.area <= 0.0)
    return isinstance(one, LineString) and bool(one.length <= 0.0)


def _refusal(fault: str, remedy: str, place: Place, shapes: Sequence[Shape]) -> InputRefused:
    ids: NDArray[np.str_] = np.array([shape.number for shape in shapes])
    return InputRefused(
        fault, remedy=remedy, file=place.file, layer=place.layer, ids=list(dict.fromkeys(ids))
    )
