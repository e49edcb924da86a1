"""The work list to print: an overview, and a sheet for each session."""

from spreadsim.views.work_sheets.page import work_sheets

__all__ = ["work_sheets"]
