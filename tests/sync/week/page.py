"""WEEK.md: the reckoning as a page, and its numbers read back from it."""

import re
from pathlib import Path

from tests.sync.week.play import Size
from tests.sync.week.reckoning import Reckoning

PAGE = Path(__file__).resolve().parent.parent / "WEEK.md"
FAULTS_PLAYED = "Faults played"
BEGIN = "<!-- From here on written by the command. -->\n"
ROW = re.compile(r"\| (.+?) \| ([\d,]+) \|")


def write_page(reckoning: Reckoning, size: Size, seed: int) -> None:
    """The head of the page stays; what follows its mark is written anew."""
    head = PAGE.read_text(encoding="utf-8").partition(BEGIN)[0]
    PAGE.write_text(head + BEGIN + build_tables(reckoning, size, seed), encoding="utf-8")


def build_tables(reckoning: Reckoning, size: Size, seed: int) -> str:
    faults = sum(count for _, count in reckoning.faults)
    size_words = f"{size.phones} phones, {size.days} days, {size.rounds} turns of each phone a day"
    played = f"{faults} faults of {len(reckoning.faults)} kinds"
    parts = [f"\nSeed {seed}: {size_words}, {played}.\n"]
    for heading, rows in reckoning.rows.items():
        parts.append(_build_table(heading, "number", rows))
    parts.append(_build_table(FAULTS_PLAYED, "times", reckoning.faults))
    agreed = "".join(f"- {words}\n" for words, one, other in reckoning.identities if one == other)
    parts.append(f"\n## Two sides that agreed\n\n{agreed}")
    return "".join(parts)


def _build_table(heading: str, unit: str, rows: list[tuple[str, int]]) -> str:
    lines = "".join(f"| {words} | {number:,} |\n" for words, number in rows)
    return f"\n## {heading}\n\n| what | {unit} |\n|---|---:|\n{lines}"


def read_tables(text: str) -> dict[str, dict[str, int]]:
    """{heading: {words: number}} of a page."""
    tables: dict[str, dict[str, int]] = {}
    heading = ""
    for line in text.splitlines():
        if line.startswith("## "):
            heading = line.removeprefix("## ")
        elif found := ROW.fullmatch(line):
            number = int(found[2].replace(",", ""))
            tables.setdefault(heading, {})[found[1]] = number
    return tables
