"""What a check of a draft is linked with: checks that come before it, and checks of earlier stages
that should have caught its faults.
"""

from collections.abc import Iterator, Mapping
from typing import Any

from qcapp.checklist.draft_fields import Source
from qcapp.checklist.edit_stages import CATCHERS
from qcapp.errors import BadInput
from qcapp.i18n.localized_text import text_of
from qcapp.i18n.phrase import phrase
from qcapp.usecases.edit_checklist import OpenDraft

Choice = tuple[str, str]


def list_before(source: Source, check: Mapping[str, Any]) -> list[Choice]:
    """(id, question) of the checks that must come first."""
    words = {one["id"]: text_of(one["ask"]) for one in source["checks"]}
    return [(name, words.get(name, name)) for name in check.get("after", ())]


def list_others(source: Source, check: Mapping[str, Any]) -> list[Choice]:
    """Those that could come first as well."""
    taken = (check["id"], *check.get("after", ()))
    return [(one["id"], text_of(one["ask"])) for one in source["checks"] if one["id"] not in taken]


def list_catchers(draft: OpenDraft, check: Mapping[str, Any]) -> list[tuple[str, str, str]]:
    """(“stage:check”, stage, question) of the earlier checks that are named."""
    words = dict(_list_earlier(draft))
    return [
        (name, stage, words.get(name, earlier))
        for stage, names in check.get(CATCHERS, {}).items()
        for earlier in names
        for name in (f"{stage}:{earlier}",)
    ]


def list_possible_catchers(draft: OpenDraft, check: Mapping[str, Any]) -> dict[str, list[Choice]]:
    """By stage, (“stage:check”, question) of the earlier checks that could be named too."""
    named = {name for name, _stage, _words in list_catchers(draft, check)}
    found: dict[str, list[Choice]] = {}
    for name, words in _list_earlier(draft):
        if name not in named:
            found.setdefault(name.partition(":")[0], []).append((name, words))
    return found


def _list_earlier(draft: OpenDraft) -> Iterator[Choice]:
    """Checks in use of the stages that the draft goes on from."""
    stages = (*draft.source.get("made_from", ()), *draft.source.get("same_serial", ()))
    for checklist in draft.editor.others:
        if checklist.stage in stages:
            for one in checklist.checks:
                yield f"{checklist.stage}:{one.id}", text_of(one.ask)


def read_catcher(draft: OpenDraft, check: Mapping[str, Any], name: str) -> tuple[str, str]:
    """(stage, check) of one that could be named. Raises BadInput for any other."""
    possible = list_possible_catchers(draft, check)
    if name not in {one for choices in possible.values() for one, _words in choices}:
        raise BadInput(
            phrase("this is no check of an earlier stage"), name, phrase("choose one of the list")
        )
    stage, _colon, earlier = name.partition(":")
    return stage, earlier
