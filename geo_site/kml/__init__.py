"""The door to phones and one-call centres: KML.

Question
    Where are the digging and the works, for someone with nothing but a phone?
In
    A :class:`geo_site.plan.Plan`.
Out
    ``locate_request.kml``: the white-line outline, its corners, and what is asked, in words;
    it goes to the one-call centre. ``works.kml``: the works and the marked lines with facts; it
    stays with the crew.
Method
    Positions on WGS 84 with eight decimals of a degree (1 mm), with the accuracy of the shift
    told; words in the units of the reports.
Reference
    OGC KML 2.2 (07-147r2).
"""

from geo_site.kml.request import corner_words, request_words, write_locate_request
from geo_site.kml.works import write_works

__all__ = ["corner_words", "request_words", "write_locate_request", "write_works"]
