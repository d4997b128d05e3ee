"""Errors of our own: each says what happened, where, and what to do.

QcappError            base; a command prints it in one line and exits 1
├── BadInput          what came in cannot be used          (HTTP 400)
├── NotFound          the named thing is not here          (HTTP 404)
├── NotPaired         the phone's token is not known       (HTTP 401)
├── NotSignedIn       nobody has signed in                 (HTTP 401)
├── NotAllowed        known, but may not do this           (HTTP 403)
├── WrongMethod       the address takes other methods      (HTTP 405)
├── TooMany           too many wrong tries, wait           (HTTP 429)
├── TooLarge          over a size limit                    (HTTP 413)
├── Clash             contradicts what is kept             (HTTP 409)
├── StoreTrouble      the database cannot be read/written  (HTTP 503)
├── PaperTrouble      a paper cannot be typeset: ours  (HTTP 500)
└── StartTrouble      the server must not start like this
"""

from qcapp.i18n.messages import Message
from qcapp.i18n.phrase import phrase


class QcappError(Exception):
    """An error a person can act on.

    what: what happened; where: file, field, address or record; todo: how to mend it.
    """

    status = 400

    def __init__(self, what: str, where: str = "", todo: str = "") -> None:
        self.what, self.where, self.todo = what, where, todo
        super().__init__(what)

    def __str__(self) -> str:
        """A phrase, so that a page can say it in another language; a command prints it as it is."""
        what = (
            phrase("%(what)s (%(where)s)", what=self.what, where=self.where)
            if self.where
            else self.what
        )
        return phrase("%(what)s: %(todo)s", what=what, todo=self.todo) if self.todo else what


class BadInput(QcappError):
    """reason: why as data, where whoever asked keeps it."""

    status = 400

    def __init__(
        self, what: str, where: str = "", todo: str = "", *, reason: Message | None = None
    ) -> None:
        super().__init__(what, where, todo)
        self.reason = reason


class NotPaired(QcappError):
    status = 401


class NotSignedIn(QcappError):
    status = 401


class NotAllowed(QcappError):
    status = 403


class WrongMethod(QcappError):
    """methods: those the address takes."""

    status = 405

    def __init__(self, where: str, methods: list[str]) -> None:
        super().__init__(
            phrase("this address does not allow that method"),
            where,
            phrase("use %(methods)s", methods=methods),
        )
        self.methods = methods


class TooMany(QcappError):
    """wait_s: after how many seconds another try is worth while."""

    status = 429

    def __init__(self, what: str, where: str, todo: str, *, wait_s: int) -> None:
        super().__init__(what, where, todo)
        self.wait_s = wait_s


class NotFound(QcappError):
    status = 404


class Clash(QcappError):
    status = 409


class TooLarge(QcappError):
    status = 413


class StoreError(QcappError):
    """retry_after_s: when a caller may try again, in seconds."""

    status = 503

    def __init__(
        self, what: str, where: str = "", todo: str = "", *, retry_after_s: int = 60
    ) -> None:
        super().__init__(what, where, todo)
        self.retry_after_s = retry_after_s


class PaperError(QcappError):
    status = 500


class StartError(QcappError):
    status = 500
