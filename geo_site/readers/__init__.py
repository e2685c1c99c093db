"""The doors in: files of strangers become a :class:`~geo_site.site.Site`, or are refused."""

from geo_site.readers import guards

guards.environment()
