"""The yard lead's pages of the yard itself."""

from qcapp.web.yard import (
    backups,
    batches,
    buyers,
    costs,
    hours,
    people,
    phones,
    quarantine,
    setup,
    start,
)

ROUTERS = (
    start.router,
    phones.router,
    quarantine.router,
    people.router,
    setup.router,
    batches.router,
    buyers.router,
    costs.router,
    hours.router,
    backups.router,
)
