"""The lead's pages of batches."""

from qcapp.web.batches import overview, review

ROUTERS = (overview.router, review.router)
