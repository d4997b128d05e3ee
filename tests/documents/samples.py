"""The two invented summaries beside this file, and a key that is nobody's."""

import copy
import json
from pathlib import Path

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from qcapp.access.signing import sign_document
from qcapp.access.signing_key import SigningKey

HERE = Path(__file__).resolve().parent
ROOT = HERE.parent.parent
NAMES = ("good", "bad")
DRAWING = (ROOT / "checklists" / "round-stove.svg").read_text(encoding="utf-8")
KEY = SigningKey(Ed25519PrivateKey.from_private_bytes(bytes(range(32))))


def load_sample(name: str) -> dict:
    return json.loads((HERE / f"{name}_batch.json").read_text(encoding="utf-8"))


def list_leaves(value, path=()):
    """(path, value) of everything that is neither an object nor a list, and of empty ones."""
    inner = (
        value.items()
        if isinstance(value, dict)
        else enumerate(value)
        if isinstance(value, list)
        else ()
    )
    if not inner or (isinstance(value, (dict, list)) and not value):
        yield path, value
        return
    for key, part in inner:
        yield from list_leaves(part, (*path, key))


def altered(document: dict, path: tuple, value) -> dict:
    """A copy with another value at the path."""
    other = copy.deepcopy(document)
    place = other
    for step in path[:-1]:
        place = place[step]
    place[path[-1]] = value
    return other


def another(value):
    """A value of the same kind that is not this one."""
    match value:
        case bool():
            return not value
        case int():
            return value + 1
        case str():
            return f"{value}1"
        case None:
            return "x"
        case list():
            return ["x"]
        case _:
            return {"x": 1}


def sign_sample(name: str) -> dict:
    return sign_document(KEY, load_sample(name))


def load_earlier_shape() -> dict:
    """A summary issued before orders, serials and checks were listed."""
    return json.loads((HERE / "earlier_shape.json").read_text(encoding="utf-8"))
