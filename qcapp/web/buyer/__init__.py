"""What a buyer's link opens: a signed summary, never a maker."""

from qcapp.web.buyer import answers, files, pages, preview, recheck

ROUTERS = (preview.router, pages.router, recheck.router, answers.router, files.router)
