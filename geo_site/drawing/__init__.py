"""The door to CAD: the plan's layers as a DXF drawing.

Question
    How does the plan look on a drawing board?
In
    A :class:`geo_site.plan.Plan`.
Out
    ``drawing.dxf``, positions and levels in the unit of the parcel file's CRS.
Method
    One drawing layer for each layer of the catalogue, by the same name, with the same colours,
    dashes and hatches, drawn in the same order; lines and points with levels are 3-D; contours lie
    on their level; words and dashes are as large as they would be plotted at 1:200 and keep off
    each other. What the drawing stands on (CRS, unit, datum, day) is written under the lot. No
    date of writing is kept, so the same plan gives the same bytes.
Reference
    DXF R2010 (AC1024), written by ezdxf.
"""

from geo_site.drawing.writing import write_drawing

__all__ = ["write_drawing"]
