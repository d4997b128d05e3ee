"""The yard's pages of checklists: those in use, the draft of each, YAML."""

from qcapp.web.checklists import (
    draft,
    draft_changes,
    draft_check,
    draft_drawing,
    draft_lists,
    offered,
    pages,
    text,
)

# The list and its files first: an id with an ending is no draft.
ROUTERS = (
    pages.router,
    draft.router,
    draft_lists.router,
    draft_drawing.router,
    draft_changes.router,
    draft_check.router,
    text.router,
    offered.router,
)
