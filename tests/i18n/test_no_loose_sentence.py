"""What reports, charts and papers say to a person is a phrase:
anything else would stay English on every page.
"""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

PACKAGE = Path(__file__).resolve().parent.parent.parent / "qcapp"
FOLDERS = ("reports", "charts", "documents")
FILES = sorted(path for folder in FOLDERS for path in (PACKAGE / folder).glob("*.py"))
MAKERS = {"phrase", "phrase_n", "sentence", "sentence_n"}
TWO_WORDS = re.compile(r"[^\W\d_]{2,} [^\W\d_]{2,}")
# A word beside a value that is put in, with a blank between: a sentence made of parts.
WORD_BESIDE = re.compile(r"[^\W\d_]{2,}[:,;.]? \{\}|\{\} [^\W\d_]{2,}")
# Not for people: keys that pages look words up by, classes of the style, names of fonts, the
# typesetter's own words, our own fault; what is drawn into a picture that all readers share.
ADMITTED = {
    "Drawn for the demo. Not a photo.",
    "not shown",
    "label quiet",
    "badge largest",
    "bar inside",
    "bar outside",
    "mark above",
    "mark above plain",
    "mark few",
    "mark plain",
    "{} failed",
    "too few",
    "Libertinus Serif",
    'the text `"(.+?)"` could not be displayed',
    "the paper cannot be typeset: {}",
    "report it with what it was made from",
}


def list_loose(source: str) -> Iterator[str]:
    """Texts of two words or more, and f-strings that put words around a value,
    outside phrase() and docstrings.
    """
    tree = ast.parse(source)
    spared = {
        id(inner)
        for node in ast.walk(tree)
        if _is_phrase(node) or _is_docstring(node)
        for inner in ast.walk(node)
    }
    for node in ast.walk(tree):
        if id(node) in spared:
            continue
        text = _text_of(node)
        if isinstance(node, ast.JoinedStr):
            spared |= {id(inner) for inner in ast.walk(node)}
        if (
            text
            and not _is_markup(text)
            and (TWO_WORDS.search(text) or WORD_BESIDE.search(text))
            and text not in ADMITTED
        ):
            yield text


def _is_phrase(node: ast.AST) -> bool:
    if not isinstance(node, ast.Call):
        return False
    # phrase(...), and TABLE.sentence(...).
    return getattr(node.func, "attr", getattr(node.func, "id", "")) in MAKERS


def _is_docstring(node: ast.AST) -> bool:
    return isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)


def _text_of(node: ast.AST) -> str:
    if isinstance(node, ast.Constant):
        return node.value if isinstance(node.value, str) else ""
    if isinstance(node, ast.JoinedStr):
        return "".join(
            part.value if isinstance(part, ast.Constant) else "{}" for part in node.values
        )
    return ""


def _is_markup(text: str) -> bool:
    return "<" in text or "#" in text


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.relative_to(PACKAGE).as_posix())
def test_no_sentence_stands_outside_a_phrase(path):
    assert not list(list_loose(path.read_text(encoding="utf-8")))


def test_loose_sentences_are_found():
    source = (
        '"""A docstring of words."""\nx = phrase("all is well")\ny = f"{n} stoves"\nz = "no'
        ' stove"\ng = f"limit {v}"\nk = f"<path d={v} of/>"\n'
    )
    assert list(list_loose(source)) == ["{} stoves", "no stove", "limit {}"]
