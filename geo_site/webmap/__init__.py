"""The door to a phone or the truck: a plan as one page with a map, without a network.

Question
    What is where on the lot, and what keeps off what, for someone with nothing but a browser?
In
    A :class:`geo_site.plan.Plan`.
Out
    ``plan.html``: one file that loads nothing else. Words and numbers are the plan's own.
Method
    Everything that the page shows is put into it as JSON, in metres east and north of a local
    origin; scripts of our own draw it with Leaflet on a plain grid, so that a metre on the map
    is a metre of the grid. A content policy with the hashes of the page's own blocks forbids
    every other source. The file is put together by plain replacement: all words of strangers go
    through JSON and are set as text, so a template engine would escape a title and nothing else.
Reference
    W3C Content Security Policy Level 3; SVG 2; WAI-ARIA 1.2.
"""

from geo_site.webmap.writing import write_webmap

__all__ = ["write_webmap"]
