"""Hands grey pictures to the phone's module in Node."""

import json
import subprocess
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import numpy as np

SCRIPT = Path(__file__).resolve().parent.parent / "js" / "holes" / "measure.js"
SECONDS = 300
# What a picture may take, in passes of plain arithmetic over a photo of 960 by 720. Nine of ten
# drawn grates take up to 165; the bench's 2.2 s of 3 s (tests/bench/MEASURED.md) leave a third.
MAX_PASSES = 225


def measure(
    folder: Path, tasks: Iterable[tuple[np.ndarray, dict[str, Any]]]
) -> list[dict[str, Any]]:
    """What the module says of each picture. tasks: a grey picture, and {"wanted": kind, ...} as
    tests/js/holes/measure.js reads it.
    """
    with subprocess.Popen(
        ["node", SCRIPT], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as node:
        answers = []
        file = folder / "grey.raw"
        for grey, task in tasks:
            grey.astype(np.uint8).tofile(file)
            height, width = grey.shape
            asked = {"file": str(file), "width": width, "height": height, **task}
            node.stdin.write(json.dumps(asked) + "\n")
            node.stdin.flush()
            line = node.stdout.readline()
            assert line, "the module failed: see what Node wrote above"
            answers.append(json.loads(line))
        node.stdin.close()
        assert node.wait(SECONDS) == 0
    return answers
