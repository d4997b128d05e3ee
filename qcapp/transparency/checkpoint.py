"""What a log says of itself at one moment: how many entries it has and the root of their Merkle
tree.

The text follows C2SP "tlog-checkpoint" v1: origin, size and root (base64), a line each. It is
signed as C2SP "signed note" (access/note.py), which puts an empty line and the signatures behind
it.
"""

import base64
import binascii
import re
from dataclasses import dataclass

from qcapp.errors import BadInput
from qcapp.i18n.phrase import phrase

# Its signatures too: sixteen of them have some 2 kB.
MAX_CHARACTERS = 8000
MAX_SIZE = 2**53 - 1
SIZE = re.compile(r"0|[1-9][0-9]{0,15}", re.ASCII)
ORIGIN = re.compile(r"[^\s+]{1,200}")
ROOT_BYTES = 32


@dataclass(frozen=True)
class Checkpoint:
    """origin: names the log; size: entries; root: 32 bytes."""

    origin: str
    size: int
    root: bytes

    @property
    def text(self) -> str:
        return f"{self.origin}\n{self.size}\n{base64.b64encode(self.root).decode()}\n"


def name_log(server_id: str) -> str:
    """The origin of a yard's log, which is its key's name too: by the random identity of its
    database, since a yard's name or address may change.
    """
    return f"qcapp.log/{server_id[:32]}"


def parse_checkpoint(text: str) -> Checkpoint:
    """The checkpoint in a text, with signatures or without, which are not looked at here.

    Raises BadInput.
    """
    body, _, _signatures = text.partition("\n\n")
    lines = body.removesuffix("\n").split("\n")
    if len(text) > MAX_CHARACTERS or len(lines) < 3 or not ORIGIN.fullmatch(lines[0]):
        raise _not_one()
    if not SIZE.fullmatch(lines[1]) or int(lines[1]) > MAX_SIZE:
        raise _not_one()
    try:
        root = base64.b64decode(lines[2], validate=True)
    except (ValueError, binascii.Error) as error:
        raise _not_one() from error
    if len(root) != ROOT_BYTES or base64.b64encode(root).decode() != lines[2] or not all(lines):
        raise _not_one()
    return Checkpoint(lines[0], int(lines[1]), root)


def _not_one() -> BadInput:
    return BadInput(
        phrase("this is not a checkpoint of a log"),
        "checkpoint",
        phrase("give the text as it was handed out: origin, size, root, empty line, signature"),
    )
