"""The yard's own checklists."""

from qcapp.web.checklists import editor

ROUTERS = (editor.router,)
