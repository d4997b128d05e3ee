"""The user guide: Markdown files served as pages."""

from qcapp.web.guide import pages

ROUTERS = (pages.router,)
