"""What the loader finds wrong, said to somebody who has never seen a YAML file.

The loader speaks of keys and codes, as a file has them; a page speaks of fields and names.
"""

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from qcapp.checklist.field_types import ITEM_MODELS
from qcapp.checklist.field_words import FIELD_WORDS, SHORT
from qcapp.checklist.source import ChecklistError
from qcapp.i18n.localized_text import join, text_of
from qcapp.i18n.phrase import Phrase, phrase
from qcapp.i18n.sizes import name_size
from qcapp.web.layout.template_filters import as_translated

Params = Mapping[str, Any]
Say = Callable[[Params], Phrase]
_FILL = phrase("fill it in")
_NUMBER = phrase("write a number such as 12 or 0.5, without the unit")

# By the loader's pattern: what is wrong, and what to do; None keeps the loader's own words.
FOUND: dict[str, tuple[Say | None, Say | None]] = {
    "missing": (lambda _: phrase("still empty"), lambda _: _FILL),
    "empty": (lambda _: phrase("still empty"), lambda _: _FILL),
    "empty text": (lambda _: phrase("still empty"), lambda _: _FILL),
    "English text is missing": (lambda _: phrase("the English text is missing"), lambda _: _FILL),
    "the list is empty": (
        lambda _: phrase("nothing is left in this list"),
        lambda _: phrase("add at least one"),
    ),
    "a plain number is expected": (lambda _: phrase("this is not a number"), lambda _: _NUMBER),
    "text is expected": (None, lambda _: phrase("write words")),
    "no limit at all": (
        lambda _: phrase("no limit yet"),
        lambda _: phrase("fill in at least, at most, or both"),
    ),
    "no entry for size '%(size)s'": (
        lambda p: phrase("no limits yet for size %(size)s", size=name_size(p["size"])),
        lambda _: _FILL,
    ),
    "lower %(lower)s is above upper %(upper)s": (
        lambda p: phrase("“at least” %(lower)s is above “at most” %(upper)s", **p),
        None,
    ),
    "lower %(lower)s is not below upper %(upper)s": (
        lambda p: phrase("%(lower)s is not below %(upper)s", **p),
        None,
    ),
    "nominal %(nominal)s is outside the limits": (
        lambda p: phrase("the target %(nominal)s is outside the limits", **p),
        lambda _: phrase("correct the target or the limits"),
    ),
    "%(value)s is outside the possible range": (
        lambda p: phrase("%(value)s would be taken for a typing error", **p),
        lambda _: phrase("correct it, or the readings that count as a typing error"),
    ),
    "no check uses %(word)s '%(name)s'": (
        lambda _: phrase("no check belongs to it yet"),
        lambda _: phrase("give it a check, or delete it"),
    ),
    "part '%(name)s' is not in %(drawing)s": (
        lambda _: phrase("this part is not on the drawing yet"),
        lambda _: phrase("place it on the page Parts and drawing"),
    ),
    "'%(value)s' is not known": (
        lambda _: phrase("this choice is not there any more"),
        lambda _: phrase("choose another"),
    ),
    "fault '%(fault)s' is not in the check's faults": (
        lambda _: phrase("the fault that this answer names is deleted"),
        lambda _: phrase("choose another fault, or none"),
    ),
    "no option with verdict %(verdict)s": (
        lambda p: phrase(
            "no answer means: %(verdict)s",
            verdict=phrase("pass") if p["verdict"] == "pass" else phrase("fail"),
        ),
        lambda _: phrase("add such an answer"),
    ),
    "rows are given, but the count has no exact limit": (
        None,
        lambda _: phrase("make at least, target and at most equal"),
    ),
    "rows are whole numbers from 1": (None, lambda _: phrase("write them like 3, 4, 5, 4, 3")),
    "size '%(value)s' is not known": (
        lambda p: phrase("there is no size %(value)s any more", **p),
        lambda _: phrase("change where it is asked"),
    ),
    "'%(key)s' is not a valid condition": (
        lambda _: phrase("this is no condition"),
        lambda _: phrase("write it like: painted = yes"),
    ),
    "true, false or text is expected": (
        lambda _: phrase("this is no condition"),
        lambda _: phrase("write it like: painted = yes"),
    ),
    "not an id in small letters with hyphens": (
        lambda _: phrase("this is no usable name"),
        lambda _: phrase("use letters and digits, such as metalwork"),
    ),
    "check '%(value)s' is not known": (
        lambda p: phrase("the check “%(check)s” is not asked any more", check=p["check"]),
        lambda _: phrase("bring it back, or change what names it"),
    ),
    "only a tick can be timed": (
        lambda _: phrase("only a check that is passed or failed by eye or hand can have a clock"),
        lambda _: phrase("empty the field"),
    ),
    "a check for what can hurt someone always applies": (None, lambda _: phrase("choose no")),
    "a gauge stands for one limit of the smallest or the largest reading": (
        None,
        lambda _: phrase("choose no, or empty the other limit"),
    ),
    "a figure of a photo, but no photo": (
        lambda _: phrase("a figure is taken from a photo, but there is no photo"),
        lambda _: phrase("choose a photo, or no figure"),
    ),
    "which figure of the photo is not said": (None, lambda _: phrase("choose a figure")),
    "a photo measures in mm, this check in %(unit)s": (
        None,
        lambda _: phrase("choose no photo and no figure, or measure in mm"),
    ),
    "figure %(figure)s of a photo is the %(given)s, the check is judged by the %(by)s": (
        lambda _: phrase("this figure does not go with what the readings are judged by"),
        lambda _: phrase("choose another figure, or no photo and no figure"),
    ),
    "part '%(part)s' of stage '%(stage)s' cannot be laid flat in the frame": (
        lambda _: phrase("this part cannot be laid flat in the frame"),
        lambda _: phrase("choose no photo and no figure: it is measured by hand"),
    ),
    "names of inputs are expected": (
        lambda _: phrase("the formula names no check"),
        lambda _: phrase("write the code of a check with _ in place of -"),
    ),
    "'%(id)s' needs itself through its inputs": (
        lambda _: phrase("the formula needs its own result"),
        lambda _: phrase("name other checks in it"),
    ),
    "'%(name)s' may be gauged, which gives no number": (
        lambda p: phrase(
            "the check “%(check)s” may be answered by a gauge, without a number", check=p["check"]
        ),
        lambda _: phrase("name another check in the formula"),
    ),
    "picture '%(name)s' appears twice in one choice": (
        lambda _: phrase("this picture is chosen twice here"),
        lambda _: phrase("choose another picture, or none"),
    ),
    "'%(name)s' comes later in the walk": (
        lambda p: phrase("“%(check)s” must come first, and comes later", check=p["check"]),
        lambda _: phrase("move its part, or the check, to the front"),
    ),
    "check '%(value)s' gives no number (%(kind)s)": (
        lambda p: phrase("the check “%(check)s” gives no number", check=p["check"]),
        lambda _: phrase("name a check with a number in the formula"),
    ),
    "must not be below 0": (None, lambda _: phrase("write 0 or more")),
}
_WORDS = {name: words for fields in FIELD_WORDS.values() for name, words in fields.items()} | SHORT


def _find_inner_words(path: Sequence[str]) -> Mapping[str, Phrase]:
    """Fields of a fault or an answer may be called otherwise than those of their check."""
    owner = next((ITEM_MODELS[one] for one in ("faults", "options") if one in path), None)
    return FIELD_WORDS[owner] if owner else {}


def say_error(error: ChecklistError, source: Mapping[str, Any]) -> str:
    """“Still empty: fill it in.”"""
    plain_what, plain_todo = FOUND.get(getattr(error.what, "one", error.what), (None, None))
    given = getattr(error.what, "params", {})
    named = [given.get(name) for name in ("name", "value", "id")]
    asks = (text_of(one["ask"]) for one in source["checks"] if one["id"] in named)
    params = {**given, "check": next(asks, next((str(one) for one in named if one), ""))}
    what = as_translated(plain_what(params) if plain_what else error.what)
    todo = plain_todo(params) if plain_todo else error.todo
    return phrase("%(what)s: %(todo)s.", what=f"{what[:1].upper()}{what[1:]}", todo=todo)


def say_with_place(error: ChecklistError, source: Mapping[str, Any]) -> str:
    """The same after the name of what it concerns and of the field."""
    group, *path = error.key.split(".")
    items = source.get(group)
    listed = items if isinstance(items, list) and path else ()
    item = next((one for one in listed if isinstance(one, dict) and one["id"] == path[0]), None)
    text = say_error(error, source)
    words = {**_WORDS, **_find_inner_words(path)}
    field = next((words[one] for one in reversed((group, *path[1:])) if one in words), None)
    size = next((one for one in path[1:] if one in source["sizes"]), None)
    if field is not None and size is not None:
        field = join(", ", (field, name_size(size)))
    if item is None:
        return phrase("%(name)s: %(text)s", name=field, text=text) if field else text
    name = text_of(item.get("ask") or item["title"])
    if field is None or field is _WORDS.get(group):
        return phrase("“%(name)s”: %(text)s", name=name, text=text)
    return phrase("“%(name)s”, %(field)s: %(text)s", name=name, field=field, text=text)
