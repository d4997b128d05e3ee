"""The lead's page of the laptop itself, and the very first page of a new yard."""

from qcapp.web.laptop import first, pages, restoring, updating

ROUTERS = (first.router, pages.router, restoring.router, updating.router)
