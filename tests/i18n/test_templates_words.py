"""No English stands bare in a template: text,
labels and strings shown go through {% trans %} or _().
"""

import re
from pathlib import Path

import pytest

from qcapp.web.layout.page import TEMPLATES

FOLDER = Path(__file__).resolve().parent.parent.parent / "qcapp" / "web"
WORD = re.compile(r"[A-Za-z]{2,}")
# Names, units, codes and commands that are the same in every language.
ADMITTED = {"Cp", "Cpk", "Pp", "Ppk", "UTC", "csv"}
COMMAND = re.compile(r"<code[^>]*>qcapp .*?</code>", re.DOTALL)
LABEL = re.compile(r'\b(?:aria-label|placeholder|alt|title|data-label)="([^"]*)"')
# An attribute that a macro writes into a tag of another place stands outside every tag in its own
# template.
ATTRIBUTE = re.compile(r'\b[a-z-]+="[^"]*"')
# Strings of an expression that no reader sees: bits of HTML and the words of filters and tests.
UNSEEN = {
    " checked",
    " selected",
    "too few",
    "too few people",
    "too few faults",
    "not shown",
}


def find_bare(source: str) -> list[str]:
    """Words outside {% trans %} and _(): in the text, in labels,
    and in strings that an expression shows.
    """
    shown, strings = _split(source)
    shown = COMMAND.sub(" ", shown)
    text = ATTRIBUTE.sub(" ", re.sub(r"<[^>]*>", " ", shown)) + " " + " ".join(LABEL.findall(shown))
    bare = [word for word in WORD.findall(re.sub(r"&\w+;", " ", text)) if word not in ADMITTED]
    return bare + [
        string
        for string in strings
        if re.search(r"[A-Za-z] [A-Za-z]|^[A-Z][a-z]", string) and string not in UNSEEN
    ]


def _split(source: str) -> tuple[str, list[str]]:
    """(the HTML without what is said already, strings of expressions that are not said)."""
    shown, strings, is_said, before = [], [], False, ["", ""]
    in_block = False
    for _line, token, value in TEMPLATES.lexer.tokeniter(source, "x"):
        if token == "data" and not is_said:
            shown.append(value)
        in_block = token == "block_begin" or (in_block and token != "block_end")
        if in_block and token == "name" and value in ("trans", "endtrans"):
            is_said = value == "trans"
        if token == "string" and before != ["_", "("]:
            strings.append(value[1:-1])
        if token != "whitespace":
            before = [before[1], value]
    return "".join(shown), strings


@pytest.mark.parametrize(
    "name", sorted(path.relative_to(FOLDER).as_posix() for path in FOLDER.rglob("*.html"))
)
def test_a_template_has_no_bare_english(name):
    bare = find_bare((FOLDER / name).read_text(encoding="utf-8"))
    assert not bare, f'write {{% trans %}}...{{% endtrans %}} or _("...") around: {bare}'


BARE = (
    "<p>Bare words</p>",
    '<i aria-label="Bare"></i>',
    '{{ "Bare" if x }}',
    '{{ "bare words" }}',
    "{% trans %}x{% endtrans %}bare",
)
SAID = (
    '<p class="dim">{% trans %}Said{% endtrans %}</p>',
    '<i aria-label="{{ _("Said") }}">{{ x.get("reason") }}</i>',
    "<code>qcapp verify</code> Cpk&ensp;",
    '{% if x %} aria-invalid="true"{% endif %}',
)


@pytest.mark.parametrize("source", BARE)
def test_bare_english_is_found(source):
    assert find_bare(source)


@pytest.mark.parametrize("source", SAID)
def test_what_is_said_is_not(source):
    assert not find_bare(source)


def test_words_are_not_set_where_they_would_be_said_once_for_all():
    """The head of a template that others import is run once, in the first reader's language:
    words belong inside its macros.
    """
    imported = set(
        re.findall(
            r'{% from "([\w.]+)"',
            "".join(path.read_text(encoding="utf-8") for path in FOLDER.glob("*.html")),
        )
    )
    for name in imported:
        head = re.sub(
            r"{%-? macro .*?{%-? endmacro",
            "",
            (FOLDER / name).read_text(encoding="utf-8"),
            flags=re.DOTALL,
        )
        assert "_(" not in head and "trans" not in head, name
