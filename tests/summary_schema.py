"""The sentences of a signed summary in its published schema: each code, its English, its params.

python3 -m tests.summary_schema    writes them anew after a sentence was added or reworded
"""

import json
import re
from collections.abc import Mapping

from qcapp.i18n.messages import Sentence
from qcapp.reports.summary_messages import CATALOGUE, MESSAGES
from tests.documents.samples import ROOT

PATH = ROOT / "qcapp" / "reports" / "summary.schema.json"
BLOCK = re.compile(r'^    "message": \{\n.*?^    \},\n', re.MULTILINE | re.DOTALL)
ABOUT = (
    "A sentence as data. Its English is the description beside its code, {name} standing for a"
    " param; a list in it is written with commas, a message in it is worded first."
)


def show_pattern(pattern: str) -> str:
    return re.sub(r"%\((\w+)\)s", r"{\1}", pattern).replace("%%", "%")


def describe_param(sentence: Sentence, name: str) -> dict:
    wording = sentence.wording.get(name)
    if not isinstance(wording, Mapping):
        return {"type": "integer"} if name == "n" else {"$ref": "#/$defs/param"}
    words = "; ".join(f"{code}: {word}" for code, word in wording.items())
    return {"description": words, "enum": list(wording)}


def describe_sentence(sentence: Sentence) -> dict:
    english = show_pattern(sentence.one)
    if sentence.many is not None:
        english = f"{english} | of other numbers: {show_pattern(sentence.many)}"
    names = sorted(sentence.places)
    params = {
        "properties": {name: describe_param(sentence, name) for name in names},
        "required": names,
        "additionalProperties": False,
    }
    code = {"const": sentence.code}
    return {"description": english, "properties": {"code": code, "params": params}}


def write_block() -> str:
    """The text of $defs.message, a line a sentence."""
    lines = ",\n".join(
        f"        {json.dumps(describe_sentence(sentence), ensure_ascii=False)}"
        for sentence in MESSAGES
    )
    head = {
        "description": ABOUT,
        "type": "object",
        "properties": {"code": True, "params": {"type": "object"}},
        "required": ["code", "params"],
        "additionalProperties": False,
    }
    top = "".join(
        f"      {json.dumps(key)}: {json.dumps(value, ensure_ascii=False)},\n"
        for key, value in head.items()
    )
    return f'    "message": {{\n{top}      "oneOf": [\n{lines}\n      ]\n    }},\n'


if __name__ == "__main__":
    text = PATH.read_text(encoding="utf-8")
    PATH.write_text(BLOCK.sub(lambda _old: write_block(), text), encoding="utf-8")
    print(f"{len(list(MESSAGES))} sentences, catalogue {CATALOGUE}")
