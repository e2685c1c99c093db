"""Where the stream runs from its spillway to the basin, and how it falls.

In: the ground that is free for the stream, the terrain and a basin. Out: a
:class:`~geo_site.layout.results.Layout`, or the reason why there is none.
"""

from geo_site.layout.follow import Followed, follow
from geo_site.layout.parameters import LayoutParameters
from geo_site.layout.pipe import with_pipe
from geo_site.layout.results import Fall, Layout, NoStream, Pool, StreamReach
from geo_site.layout.stream import lay_out

__all__ = [
    "Fall",
    "Followed",
    "Layout",
    "LayoutParameters",
    "NoStream",
    "Pool",
    "StreamReach",
    "follow",
    "lay_out",
    "with_pipe",
]
