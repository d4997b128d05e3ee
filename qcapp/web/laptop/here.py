"""Who may open these pages, beyond the role: whoever sits at the laptop that runs the server."""

from typing import Annotated

from fastapi import Depends, Request

from qcapp.errors import NotAllowed, NotFound
from qcapp.i18n.phrase import phrase
from qcapp.usecases.keep_backups import BackupKeeper
from qcapp.usecases.laptop import Laptop
from qcapp.web.middleware.authorisation import is_this_machine


def find_laptop(request: Request) -> Laptop | None:
    """None from another machine, by another name, or where the server was started otherwise."""
    laptop: Laptop | None = request.app.state.laptop
    return laptop if is_this_machine(request) else None


def get_laptop(request: Request) -> Laptop:
    laptop = find_laptop(request)
    if laptop is None:
        raise NotAllowed(
            phrase("this is done on the laptop itself"),
            request.url.path,
            phrase("start the program there by a double click or with qcapp start"),
        )
    return laptop


def get_keeper(request: Request) -> BackupKeeper:
    keeper: BackupKeeper | None = request.app.state.backups
    if keeper is None:
        raise NotFound(
            phrase("this database is not a file that the program copies"),
            request.url.path,
            phrase("the guide's page on PostgreSQL says how its backups are made"),
        )
    return keeper


LaptopDep = Annotated[Laptop, Depends(get_laptop)]
KeeperDep = Annotated[BackupKeeper, Depends(get_keeper)]
