"""Check sheets and tags to print, and sheets typed in."""

from qcapp.web.papers import entry, printing

ROUTERS = (printing.router, entry.router)
