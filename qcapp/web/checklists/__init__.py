"""The yard lead's pages of checklists."""

from qcapp.web.checklists import fields, offered, pages, text

ROUTERS = (pages.router, fields.router, text.router, offered.router)
