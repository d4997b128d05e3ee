"""Signing in, accounts and the audit trail."""

from qcapp.web.accounts import audit_trail, pages

ROUTERS = (pages.router, audit_trail.router)
