"""Commands for whoever holds the machine: accounts, names, checklists, a restore by hand."""

import io
import json
import re
from unittest import mock

import pytest

from qcapp.settings import Settings
from qcapp.store.registry.people import save_people
from qcapp.usecases.open_store import open_store
from tests.builders import PEOPLE, make_cookie
from tests.cli.test_cli import ROOT, answer, run

pytestmark = pytest.mark.slow


@pytest.fixture
def yard(tmp_path):
    """The address of a database with people and one account."""
    url = f"sqlite:///{tmp_path / 'yard.db'}"
    store = open_store(Settings(database_url=url, checklists_dir=ROOT / "checklists"))
    with store.writing() as connection:
        save_people(connection, PEOPLE)
    make_cookie(store, code="T01", role="trainer")
    store.close()
    return url


def test_accounts_are_listed_and_a_lost_password_gets_a_link(yard):
    assert re.match(r"T01 +trainer +T01 name\n", run("account", "list", database=yard).stdout)
    (row,) = answer("account", "list", "--json", database=yard)
    assert (row["code"], row["role"]) == ("T01", "trainer")
    words = ("account", "link", "--code", "T01", "--address", "https://yard.example/")
    done = run(*words, database=yard)
    assert re.search(r"https://yard\.example/welcome/[\w-]+\n", done.stdout)
    wrong = run("account", "link", "--role", "king", database=yard)
    assert wrong.returncode == 2 and "yard_lead" in wrong.stderr


def test_what_is_kept_of_a_person_is_written_and_the_name_erased(yard, tmp_path):
    file = tmp_path / "person.json"
    assert run("person", "export", "A01", "--out", file, database=yard).stdout == ""
    assert json.loads(file.read_text()) == answer("person", "export", "A01", database=yard)
    assert json.loads(file.read_text())["person"]["name"] == "Ano"
    with mock.patch("sys.stdin", io.StringIO("n\n")):
        assert run("person", "erase", "A01", database=yard).returncode != 0, "the answer was no"
    assert answer("person", "export", "A01", database=yard)["person"]["name"] == "Ano"
    assert "A01 is erased" in run("person", "erase", "A01", "--yes", database=yard).stdout
    assert answer("person", "export", "A01", database=yard)["person"]["name"] == "A01"


def test_checklist_in_use_is_shown_and_a_good_file_says_so(yard):
    file = ROOT / "checklists" / "finished-stove.yaml"
    shown = answer("checklist", "show", "finished-stove", "--json", database=yard)
    said = run("checklist", "show", "finished-stove", database=yard).stdout.splitlines()
    assert shown["hash"][:12] in said[0] and len(said) == 1 + len(shown["checks"])
    for line, check in zip(said[1:], shown["checks"], strict=True):
        assert check["ask"]["en"] in line and f"[{check['basis']}]" in line
    done = run("checklist", "check", file)
    assert done.stdout == (
        f"{file}: good, {len(shown['checks'])} checks, hash {shown['hash'][:12]}\n"
    )
    assert answer("checklist", "check", "--json", file) == {str(file): []}


def test_restore_by_hand_is_noted_for_the_phones(yard):
    said = run("restore", "--by-hand", database=yard).stdout
    assert re.match(r"\d+ records are here; at their next contact", said)
    number = answer("restore", "--by-hand", "--json", database=yard)["records"]
    assert number > int(said.split()[0]), "each note is a record"
    for words in ((), ("file.db", "--by-hand")):
        assert "use --by-hand alone" in run("restore", *words, database=yard).stderr
