"""One stove on its whole way, for those who lead and teach the yard."""

from qcapp.web.stoves import pages

ROUTERS = (pages.router,)
