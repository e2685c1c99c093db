"""How the pages are built: ``sphinx-build -W -b html docs out/site``."""

from geo_site import __version__

project = "geo_site"
author = "the contributors of geo_site"
copyright = author  # noqa: A001  # the name that the builder reads
release = __version__
extensions = ["sphinx.ext.autodoc", "numpydoc", "myst_parser"]
source_suffix = {".md": "markdown"}
exclude_patterns = ["pictures"]
html_theme = "furo"
html_title = f"geo_site {release}"
html_show_sphinx = False
html_permalinks = False
myst_enable_extensions = ["attrs_block"]
myst_heading_anchors = 3
autosummary_generate = False
autodoc_default_options = {"no-value": True}
numpydoc_show_class_members = False
numpydoc_class_members_toctree = False
autodoc_member_order = "bysource"
autodoc_typehints = "none"  # the docstrings say types, with units beside them
autodoc_class_signature = "separated"
suppress_warnings = ["myst.xref_missing"]  # pages also link to files beside the docs folder
