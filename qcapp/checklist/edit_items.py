"""What a checklist in the making is made of: add, move and retire a check, a step, a fault, an
answer, a size.

As in edit.py, every function takes a source and gives another.
"""

import copy
from collections.abc import Collection, Iterator, Mapping, Sequence
from decimal import Decimal
from typing import Any, Literal

from qcapp.checklist.check_kinds import CHECK_KINDS, NUMBER_KINDS, is_for_first_piece
from qcapp.checklist.draft_fields import Source
from qcapp.checklist.edit import find_item, fit_labels, make_slug
from qcapp.checklist.field_types import FORMULA
from qcapp.errors import NotFound
from qcapp.i18n.phrase import phrase

MAX_ID = 60
Direction = Literal["up", "down"]


def copy_as_new(source: Mapping[str, Any], title: str, taken: Collection[str]) -> Source:
    """The first revision of another checklist that asks the same under another name; records of the
    two are never counted together. taken: ids of checklists.
    """
    return {
        **source,
        "id": make_id(title, taken, "checklist"),
        "revision": Decimal(1),
        "title": {"en": title},
    }


def make_id(words: str, taken: Collection[str], otherwise: str) -> str:
    """A code of these words that nothing had before. otherwise: where no letter is left."""
    stem = make_slug(words)[: MAX_ID - 4].strip("-")
    if not stem[:1].isalpha():
        stem = f"{otherwise}-{stem}".strip("-")
    number = 1
    while (found := stem if number == 1 else f"{stem}-{number}") in taken:
        number += 1
    return found


def add_item(source: Mapping[str, Any], group: str, item: Mapping[str, Any]) -> Source:
    """A tool, part, step or check at the end; a check at the end of its part."""
    return {**source, group: [*source.get(group, ()), dict(item)]}


def build_check(source: Mapping[str, Any], kind: str, given: Mapping[str, str]) -> Source:
    """A check of this kind with an id and what else was given, and what each kind begins with: no
    limit, one fault, two answers. given: id, part, step, severity, ask, how, basis, unit.
    """
    if kind not in CHECK_KINDS:
        raise NotFound(phrase("there is no such kind of check"), kind, phrase("choose another"))
    check: Source = {
        **{name: given[name] for name in ("id", "part", "step", "severity")},
        "ask": {"en": given["ask"]},
        "how": {"en": given["how"]},
        kind: _begin_block(source, kind, given.get("unit", "")),
        "faults": [{"id": "faulty", "title": {"en": given["fault"]}}],
        "basis": given["basis"],
    }
    return check


def _begin_block(source: Mapping[str, Any], kind: str, unit: str) -> Source:
    if kind == "choice":
        return {
            "options": [
                {"id": "good", "title": {"en": "Good"}, "verdict": "pass"},
                {"id": "faulty", "title": {"en": "Faulty"}, "verdict": "fail", "fault": "faulty"},
            ]
        }
    if kind not in NUMBER_KINDS:
        return {}
    block: Source = {"unit": unit, "limits": {size: {} for size in source["sizes"]}}
    if kind == "readings":
        block |= {"n": Decimal(2), "by": "smallest"}
        fit_labels(block)
    if kind == "calculated":
        block |= {FORMULA: "", "inputs": {}}
    if kind != "count":
        block |= {"resolution": Decimal(1), "uncertainty": Decimal(0), "decision": "simple"}
    return block


def get_item(source: Mapping[str, Any], group: str, item_id: str) -> Source:
    """Raises NotFound."""
    found = find_item(source.get(group, ()), item_id)
    if found is None:
        raise NotFound(
            phrase("this is not in the draft (any more)"), item_id, phrase("open the draft again")
        )
    return found


def retire_item(source: Mapping[str, Any], group: str, item_id: str) -> Source:
    """Without the item; with a check go the part, step and tool that no other check uses."""
    get_item(source, group, item_id)
    left = {**source, group: [one for one in source[group] if one["id"] != item_id]}
    if group == "checks":
        left = _without_unused(source, left, item_id)
    return _without_idle_first_pieces(left)


def _without_idle_first_pieces(source: Source) -> Source:
    """A step that has gone, or has lost its last check for a first piece, has none any more."""
    busy = list_first_piece_steps(source)
    return _with_first_pieces(source, {one for one in source.get("first_piece", ()) if one in busy})


def _with_first_pieces(source: Mapping[str, Any], wanted: Collection[str]) -> Source:
    """In the order of the steps, at the place of the file: taking back a change gives the same."""
    steps = [step["id"] for step in source["steps"] if step["id"] in wanted]
    changed: Source = {}
    for name, value in source.items():
        if name != "first_piece":
            changed[name] = value
        if name == "sizes" and steps:
            changed["first_piece"] = steps
    return changed


def list_first_piece_steps(source: Mapping[str, Any]) -> set[str]:
    """Steps with a check that a first piece gets: a critical or a measured one."""
    return {
        check["step"]
        for check in source["checks"]
        if is_for_first_piece(check["severity"], kind_of(check))
    }


def set_first_piece(source: Mapping[str, Any], step_id: str, *, is_checked: bool) -> Source:
    """Whether the first piece of a day of this step is checked before more are made."""
    get_item(source, "steps", step_id)
    others = set(source.get("first_piece", ())) - {step_id}
    return _with_first_pieces(source, others | ({step_id} if is_checked else set()))


def _without_unused(source: Mapping[str, Any], left: Source, check_id: str) -> Source:
    gone = get_item(source, "checks", check_id)
    checks = [_without_ref(check, check_id) for check in left["checks"]]
    for group, word in (("tools", "tool"), ("parts", "part"), ("steps", "step")):
        if gone.get(word) and all(check.get(word) != gone[word] for check in checks):
            left[group] = [one for one in left.get(group, ()) if one["id"] != gone[word]]
    return {**left, "checks": checks}


def _without_ref(check: Source, check_id: str) -> Source:
    """What comes before a check is no more than what is asked."""
    after = [name for name in check.get("after", ()) if name != check_id]
    kept = {name: value for name, value in check.items() if name != "after"}
    return {**kept, "after": after} if after else kept


def move_item(source: Mapping[str, Any], group: str, item_id: str, where: Direction) -> Source:
    """Changes places with its neighbour; a check with that of the same part."""
    items = list(source.get(group, ()))
    mine = items.index(get_item(source, group, item_id))
    same = [
        place
        for place, one in enumerate(items)
        if group != "checks" or one["part"] == items[mine]["part"]
    ]
    at = same.index(mine) + (-1 if where == "up" else 1)
    if 0 <= at < len(same):
        other = same[at]
        items[mine], items[other] = items[other], items[mine]
    return {**source, group: items}


def change_list(
    source: Mapping[str, Any], check_id: str, name: str, items: Sequence[Any]
) -> Source:
    """The check with these faults, answers (options) or checks that come before it (after)."""
    check = copy.deepcopy(get_item(source, "checks", check_id))
    owner = check[kind_of(check)] if name == "options" else check
    owner.pop(name, None)
    if items:
        owner[name] = list(items)
    # What is required stands in the source even when nothing is left in it.
    elif name in ("faults", "options"):
        owner[name] = []
    return _put_back(source, check)


def _put_back(source: Mapping[str, Any], check: Source) -> Source:
    """The check, changed, in its own place."""
    checks = [check if one["id"] == check["id"] else one for one in source["checks"]]
    return {**source, "checks": checks}


def set_catcher(
    source: Mapping[str, Any], check_id: str, stage: str, earlier: str, *, is_named: bool
) -> Source:
    """Whether the check `earlier` of an earlier stage should have caught this check's faults."""
    check = copy.deepcopy(get_item(source, "checks", check_id))
    named = check.setdefault("should_be_caught_by", {})
    left = [one for one in named.get(stage, ()) if one != earlier]
    named[stage] = [*left, earlier] if is_named else left
    if not named[stage]:
        del named[stage]
    if not named:
        del check["should_be_caught_by"]
    return _put_back(source, check)


def list_of(check: Mapping[str, Any], name: str) -> list[Any]:
    """The check's faults, options or after."""
    owner = check[kind_of(check)] if name == "options" else check
    return list(owner.get(name, ()))


def move_in(items: Sequence[Source], item_id: str, where: Direction) -> list[Source]:
    moved = list(items)
    mine = next((place for place, one in enumerate(moved) if one["id"] == item_id), 0)
    other = mine + (-1 if where == "up" else 1)
    if moved and 0 <= other < len(moved):
        moved[mine], moved[other] = moved[other], moved[mine]
    return moved


def kind_of(check: Mapping[str, Any]) -> str:
    return next(name for name in check if name in CHECK_KINDS)


# --- Sizes


def add_size(source: Mapping[str, Any], size: str, like: str) -> Source:
    """A further size; every check gets the limits (and rows) of the size `like`, to be changed."""
    changed = copy.deepcopy(dict(source))
    changed["sizes"] = [*changed["sizes"], size]
    for _check, by_size in _list_by_size(changed):
        if like in by_size:
            by_size[size] = copy.deepcopy(by_size[like])
    return changed


def retire_size(source: Mapping[str, Any], size: str) -> Source:
    changed = copy.deepcopy(dict(source))
    changed["sizes"] = [one for one in changed["sizes"] if one != size]
    for _check, by_size in _list_by_size(changed):
        by_size.pop(size, None)
    return changed


def move_size(source: Mapping[str, Any], size: str, where: Direction) -> Source:
    moved = move_in([{"id": one} for one in source["sizes"]], size, where)
    return {**source, "sizes": [one["id"] for one in moved]}


def _list_by_size(source: Source) -> Iterator[tuple[Source, Source]]:
    """(check, what it says by size), `all` written out for each size."""
    for check in source["checks"]:
        block = check[kind_of(check)]
        for name in ("limits", "rows"):
            if isinstance(block, dict) and isinstance(block.get(name), dict):
                if "all" in block[name]:
                    shared = block[name].pop("all")
                    block[name] |= {one: copy.deepcopy(shared) for one in source["sizes"]}
                yield check, block[name]
