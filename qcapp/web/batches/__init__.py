"""The lead's pages of batches."""

from qcapp.web.batches import actions, pages

ROUTERS = (pages.router, actions.router)
