"""What an artisan's link opens: the own card."""

from qcapp.web.cards import pages

ROUTERS = (pages.router,)
