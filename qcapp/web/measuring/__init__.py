"""Pages about how well the yard measures and judges."""

from qcapp.web.measuring import limits, pace, studies

ROUTERS = (limits.router, studies.router, pace.router)
