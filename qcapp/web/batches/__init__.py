"""The lead's pages of batches."""

from qcapp.web.batches import figures, overview, review

ROUTERS = (overview.router, figures.router, review.router)
