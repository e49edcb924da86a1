"""The brief: what to do first, why and how sure, on two pages to print, with appendices."""

from spreadsim.views.brief.page import brief_page

__all__ = ["brief_page"]
