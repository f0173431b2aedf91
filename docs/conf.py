"""Sphinx: MyST pages in the furo theme."""

import re
from pathlib import Path

project = "steadfeed"
author = "The steadfeed developers"
copyright = "the steadfeed developers, Apache License 2.0"
release = re.search(
    r'__version__ = "(.+)"', Path(__file__).parent.joinpath("../src/steadfeed/__init__.py").read_text()
)[1]
version = release

extensions = ["myst_parser", "sphinx.ext.autodoc"]
myst_enable_extensions = ["deflist", "colon_fence"]
myst_heading_anchors = 3
autodoc_typehints = "signature"
autodoc_member_order = "bysource"
exclude_patterns = ["_build"]
# Decisions name files and tests by path; those are code, not links.
suppress_warnings = ["myst.xref_missing"]

html_theme = "furo"
html_title = "steadfeed"
# Ink on paper, as the reports: no colour carries meaning here.
html_theme_options = {
    "light_css_variables": {
        "color-brand-primary": "#16181D",
        "color-brand-content": "#0A3E8C",
        "color-background-primary": "#FAF8F2",
    },
    "dark_css_variables": {
        "color-brand-primary": "#EDEAE0",
        "color-brand-content": "#8FBCFF",
        "color-background-primary": "#14161A",
    },
}
