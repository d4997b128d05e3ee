"""Commands that print: a sheet and tags of the demo, and papers that cannot be."""

import pytest
from pypdf import PdfReader

from tests.cli.test_cli import answer, run

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    """Address of a filled demo database."""
    url = f"sqlite:///{tmp_path_factory.mktemp('demo') / 'demo.sqlite3'}"
    answer("demo", "--no-serve", "--json", database=url)
    return url


def test_sheet_and_tags_are_written_as_pdf(demo, tmp_path):
    sheet = answer(
        "sheet",
        "finished-stove",
        "--size",
        "medium",
        "--stoves",
        "5",
        "--out",
        tmp_path / "sheet.pdf",
        "--json",
        database=demo,
    )
    assert (tmp_path / "sheet.pdf").read_bytes().startswith(b"%PDF-") and (
        tmp_path / "sheet.pdf"
    ).stat().st_size == sheet["bytes"]
    batch = answer("export", "stoves", "--json", database=demo)[0]["batch"]
    answer(
        "tags",
        batch,
        "--first",
        "3",
        "--last",
        "5",
        "--out",
        tmp_path / "tags.pdf",
        "--json",
        database=demo,
    )
    text = "".join(page.extract_text() for page in PdfReader(tmp_path / "tags.pdf").pages)
    assert all(f"00{number}" in text for number in (3, 4, 5)) and "002" not in text


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["sheet", "none"], "finished-stove"),
        (["sheet", "finished-stove", "--size", "huge"], "small, medium, large"),
        (["sheet", "finished-stove", "--stoves", "3"], "1 or 5"),
        (["sheet", "finished-stove", "--batch", "NONE"], "no such batch"),
        (["tags", "NONE"], "no such batch"),
    ],
)
def test_paper_that_cannot_be_is_one_line_and_writes_nothing(words, says, tmp_path):
    done = run(*words, "--out", tmp_path / "paper.pdf")
    assert (
        done.returncode == 1
        and says in done.stderr
        and done.stderr.count("\n") == 1
        and not (tmp_path / "paper.pdf").exists()
    )
