"""Issued summaries: what a buyer's link opens, with the lead's preview of it."""

from qcapp.web.buyer import pages, preview

ROUTERS = (pages.router, preview.router)
