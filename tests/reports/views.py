"""What each page, paper and file says of a batch's totals, read as a person reads it.

Every reader gives {"stoves": {key of WORDS: count}, "faults": n, "by": {division: {what: n}}}, as
far as its view shows them.
"""

import csv
import io
import re
import zipfile
from collections import Counter
from html import unescape
from xml.etree import ElementTree

from qcapp.documents.summary_texts import list_texts
from qcapp.i18n.catalogue import load_locale
from qcapp.reports.summary_wording import word_summary
from qcapp.reports.totals import WORDS
from tests.page_text import drop_marks

KEYS = {str(word): key for key, word in WORDS.items()}
FAULTS = re.compile(
    r"(\d+) faults? on (\d+) faulty stoves: (\d+) critical, (\d+) major, (\d+) minor\."
)
SEVERITIES = ("critical", "major", "minor")
OF = re.compile(r"(\d+) of (\d+)")


def clean(html):
    return " ".join(unescape(re.sub(r"<[^>]*>", " ", drop_marks(html))).split())


def read_rows(html):
    """Each table of a page: [[cell, ...], ...]."""
    return [
        [
            [clean(cell) for cell in re.findall(r"<t[hd]\b[^>]*>(.*?)</t[hd]>", row, re.DOTALL)]
            for row in re.findall(r"<tr\b[^>]*>(.*?)</tr>", table, re.DOTALL)
        ]
        for table in re.findall(r"<table\b[^>]*>(.*?)</table>", html, re.DOTALL)
    ]


def read_sums(pairs):
    """{key: count} of the words and counts of sum tables; a whole that stands in several must be
    the same in each.
    """
    found = {}
    for word, count in pairs:
        key = KEYS[word]
        assert found.setdefault(key, int(count)) == int(count), (word, found[key], count)
    return found


def read_faults(text):
    total, bad, *by = map(int, FAULTS.search(text).groups())
    return total, bad, dict(zip(SEVERITIES, by, strict=True))


def is_sum_table(table):
    return all(len(row) == 2 and row[0] in KEYS for row in table)


def read_lead_section(html):
    """One stage of the lead's page of a batch."""
    total, bad, severities = read_faults(clean(html))
    (checks,) = (table for table in read_rows(html) if table[0][0] == "Check")
    *rows, foot = checks[1:]
    assert int(foot[1]) == total, "the table's last row is the sum"
    by_check = Counter()
    for row in rows:
        if len(row) > 1:
            by_check[row[0]] += int(row[1].split()[0])
    parts = re.search(r"by part: (.*?)\.\s*</figcaption>", html, re.DOTALL)[1]
    found = {
        "stoves": read_sums(
            row for table in read_rows(html) if is_sum_table(table) for row in table
        ),
        "faults": total,
        "by": {
            "part": read_named_counts(clean(parts)),
            "check": dict(by_check),
            "severity": severities,
        },
    }
    assert found["stoves"]["faulty"] == bad
    return found


def read_figures(html):
    """The large figures of a page: [(number, numbers of the line below it)], as text."""
    found = re.findall(r"<dd>([^<]*)<small>(.*?)</small></dd>", html, re.DOTALL)
    return [(number.strip(), re.findall(r"[\d.]+", clean(small))) for number, small in found]


def read_severities(html):
    """{severity: (stoves with such a fault, of)} of the lead's page; of 0 where it says that nobody
    looked.
    """
    found = re.findall(r"<li><strong>(\d+)</strong> (\w+) <span[^>]*>of (\d+)", html)
    unseen = re.findall(r"<li><strong>–</strong> (\w+) <span[^>]*>not looked for", html)
    told = {severity: (int(count), int(of)) for count, severity, of in found}
    return {**told, **dict.fromkeys(unseen, (0, 0))}


def read_stove_counts(html):
    """[[failed, inspected]] wherever a table says "3 of 40"."""
    cells = (cell for table in read_rows(html) for row in table for cell in row)
    return [tuple(map(int, found.groups())) for cell in cells if (found := OF.fullmatch(cell))]


def read_cells(html):
    """[(failed, inspected)] of the matrix of steps by people."""
    found = re.findall(r'<a class="rate-cell[^>]*>(?:<span[^>]*>[^<]*</span>)?(\d+) of (\d+)', html)
    return [tuple(map(int, counts)) for counts in found]


def read_named_counts(text):
    """Door opening 3, Grate 1"""
    if text == "none":
        return {}
    return {name: int(n) for name, n in re.findall(r"([^,]+?) (\d+)(?:, ?|$)", text)}


def read_lead_page(html):
    """{stage: totals}"""
    sections = re.findall(
        r'<section aria-labelledby="stage-([\w-]+)">(.*?)</section>', html, re.DOTALL
    )
    return {stage: read_lead_section(section) for stage, section in sections}


def read_buyer_page(html):
    tables = read_rows(html)
    total, bad, severities = read_faults(clean(html))
    (parts,) = (table for table in tables if table[0][0] == "Part")
    (kinds,) = (table for table in tables if table[0][0] == "Fault")
    *rows, foot = parts[1:]
    assert list(map(int, foot[1:])) == [total, *severities.values()]
    for place, severity in enumerate(SEVERITIES, 2):
        assert sum(int(row[place]) for row in rows) == severities[severity]
    *found_kinds, last = [row for row in kinds[1:] if len(row) > 1]
    assert sum(int(row[1].split()[0]) for row in found_kinds) == total == int(last[1])
    found = {
        "stoves": read_sums(row for table in tables if is_sum_table(table) for row in table),
        "faults": total,
        "by": {"part": {row[0]: int(row[1]) for row in rows}, "severity": severities},
    }
    assert found["stoves"]["faulty"] == bad
    return found


def read_paper_data(document):
    """What is handed to the typesetter."""
    english = load_locale("en").translate
    texts = list_texts(word_summary(document))
    pairs = [
        (english(word), count)
        for table in texts["sums"]
        for word, count in (*table["rows"], table["whole"])
    ]
    total, bad, severities = read_faults(english(texts["counted"]))
    stoves = read_sums(pairs)
    shown = document["causes"][: texts["shown_causes"]]
    assert sum(row["failed"] for row in shown) + texts["other_count"] == total
    assert stoves["faulty"] == bad
    return {"stoves": stoves, "faults": total, "by": {"severity": severities}}


def read_paper_text(text):
    """The text of the PDF itself."""
    words = sorted(KEYS, key=len, reverse=True)
    lines = re.findall(rf"^({'|'.join(map(re.escape, words))}) (\d+)$", text, re.MULTILINE)
    total, _bad, severities = read_faults(" ".join(text.split()))
    return {"stoves": read_sums(lines), "faults": total, "by": {"severity": severities}}


def read_document(document):
    by_check = Counter()
    for row in document["causes"]:
        by_check[row["check"]] += row["failed"]
    return {
        "stoves": document["counts"],
        "faults": document["faults"]["total"],
        "by": {
            "part": {row["part"]: row["failed"] for row in document["parts"]},
            "check": dict(by_check),
            "severity": {key: document["faults"][key] for key in SEVERITIES},
        },
    }


def read_report(report):
    """The JSON of the lead's page."""
    return report["totals"]


def read_tables(stoves, readings):
    """Rows as dicts of the stoves' and the readings' table, as text."""
    counts = Counter(inspected=len(stoves))
    for row in stoves:
        counts["faulty" if row["has_first_pass_fail"] == "yes" else "good"] += 1
        ends = row["disposition"]
        if ends == "release":
            ends = "released_at_once" if int(row["inspections"]) == 1 else "released_later"
        counts[ends] += 1
    failed = [
        row for row in readings if row["is_first_pass"] == "yes" and row["counts_as_fail"] == "yes"
    ]
    return {
        "stoves": dict(counts),
        "faults": len(failed),
        "by": {
            name: dict(Counter(row[name] for row in failed))
            for name in ("part", "check", "severity")
        },
    }


def read_csv(content):
    return list(csv.DictReader(io.StringIO(content.decode("utf-8-sig"))))


def read_xlsx(content):
    """{sheet: rows as dicts}, from the file's own XML."""
    name = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
    book = zipfile.ZipFile(io.BytesIO(content))
    shared = [
        "".join(one.itertext())
        for one in ElementTree.fromstring(book.read("xl/sharedStrings.xml")).iter(f"{name}si")
    ]
    sheets = [one.get("name") for one in read_xml(book, "xl/workbook.xml").iter(f"{name}sheet")]
    found = {}
    for place, title in enumerate(sheets, 1):
        rows = []
        for row in read_xml(book, f"xl/worksheets/sheet{place}.xml").iter(f"{name}row"):
            cells = {}
            for cell in row.iter(f"{name}c"):
                value = cell.find(f"{name}v")
                if value is not None:
                    text = shared[int(value.text)] if cell.get("t") == "s" else value.text
                    cells[re.sub(r"\d", "", cell.get("r"))] = text
            rows.append(cells)
        head = rows[0]
        found[title] = [{head[key]: row.get(key, "") for key in head} for row in rows[1:]]
    return found


def read_xml(book, name):
    return ElementTree.fromstring(book.read(name))
