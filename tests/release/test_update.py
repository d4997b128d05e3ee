"""An update from file to start: what is refused, what a power cut leaves, what is given up."""

import os
import shutil
import signal
import sqlite3
import subprocess
import sys
import time
from collections import namedtuple
from datetime import UTC, datetime
from pathlib import Path

import pytest

from qcapp.cli.runner import Runner, describe_self, prove, tell_given_up
from qcapp.errors import BadInput, Clash, StartError, StoreError
from qcapp.release import launch
from qcapp.release.launch import hand_over, run_watched
from qcapp.release.place import Choice, ProgramPlace, find_place_of
from qcapp.release.trial import ask_version, find_free_port
from qcapp.settings import Settings
from qcapp.store.upkeep.backup import check_database
from qcapp.store.upkeep.put_back import put_back, read_shape
from qcapp.usecases import update_program
from qcapp.usecases.update_program import Update
from tests.builders import open_small_store
from tests.release.made import make_publisher, unzip_by_hand, write_program

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(os.name == "nt", reason="the stand-in for the program is a script"),
]
NOW = datetime(2026, 11, 30, 9, 0, tzinfo=UTC)
Installed = namedtuple("Installed", "place publisher settings steps update")


@pytest.fixture
def installed(tmp_path):
    """A program of version 0.1.0 with a yard, and who publishes it."""
    publisher = make_publisher(tmp_path / "publisher")
    place = unzip_by_hand(tmp_path / "qcapp", "0.1.0")
    store, _checklist = open_small_store(tmp_path / "yard.db")
    store.close()
    settings = Settings(database_url=store.url, key_file=tmp_path / "key.pem")
    steps = []
    update = Update(place, settings, "0.1.0", publisher.public_path, steps.append)
    return Installed(place, publisher, settings, steps, update)


def list_left(place):
    return {path.name for path in place.versions.iterdir()} if place.versions.exists() else set()


def list_copies(installed):
    return list(Path(installed.settings.key_file).parent.glob("yard.before-*"))


def test_a_signed_newer_version_that_answers_is_chosen_and_the_old_one_stays(installed):
    before = (installed.place.root / "qcapp").read_bytes()
    installed.update.bring(installed.publisher.publish("0.2.0"), NOW)
    choice = installed.place.read_choice()
    assert (choice.version, choice.before, choice.is_proven) == ("0.2.0", "", False)
    assert (installed.place.root / "qcapp").read_bytes() == before
    assert len(installed.steps) == 5
    (copy,) = list_copies(installed)
    assert choice.copy == str(copy) and check_database(copy).seq == 0
    assert list_left(installed.place) == {"0.2.0", "chosen.json"}
    assert not list(installed.place.root.rglob(".trial*"))


def test_the_trial_sees_a_copy_of_the_records_and_nothing_of_the_yards_own(installed):
    seen = {}
    own = {installed.settings.database_url, str(installed.settings.key_file)}
    installed.settings.key_file.write_text("key")

    def try_out(entry, version, surroundings):
        seen.update(surroundings)
        copy = Path(surroundings["QCAPP_DATABASE_URL"].removeprefix("sqlite:///"))
        assert check_database(copy) and Path(surroundings["QCAPP_KEY_FILE"]).read_text() == "key"

    update = Update(*list(vars(installed.update).values())[:-1], try_out)
    update.bring(installed.publisher.publish("0.2.0"), NOW)
    assert seen and not own & set(seen.values())


FAILING = {
    "it ends": ("raise SystemExit('no room for me')", None, "no room for me"),
    "it says another version": ("", "0.1.0", "did not answer"),
    "it is silent": ("import time; time.sleep(60)", None, "did not answer"),
}


@pytest.mark.parametrize(("first", "says", "why"), FAILING.values(), ids=FAILING)
def test_a_version_that_does_not_answer_is_not_chosen_and_leaves_nothing(
    installed, monkeypatch, first, says, why
):
    def try_briefly(entry, version, surroundings):
        update_program.try_program(entry, version, surroundings, seconds=1.5)

    update = Update(*list(vars(installed.update).values())[:-1], try_briefly)
    with pytest.raises(StartError, match=why):
        update.bring(installed.publisher.publish("0.2.0", first, says), NOW)
    assert installed.place.read_choice() == Choice()
    assert list_left(installed.place) == set() and not list_copies(installed)


@pytest.mark.parametrize("version", ["0.1.0", "0.0.9", "0.1"])
def test_a_version_that_is_not_newer_is_refused(installed, version):
    with pytest.raises(Clash, match="not newer"):
        installed.update.bring(installed.publisher.publish(version), NOW)
    assert list_left(installed.place) == set()


def test_a_release_for_another_system_is_refused(installed, monkeypatch):
    file = installed.publisher.publish("0.2.0")
    monkeypatch.setattr(update_program, "get_system", lambda: "windows-amd64")
    with pytest.raises(Clash, match="another system"):
        installed.update.bring(file, NOW)


def test_another_publishers_release_is_refused(installed, tmp_path):
    with pytest.raises(BadInput, match="not signed by the publisher"):
        installed.update.bring(make_publisher(tmp_path / "other").publish("0.2.0"), NOW)
    assert list_left(installed.place) == set() and not list_copies(installed)


def test_too_little_room_is_said_before_anything_is_written(installed, monkeypatch):
    monkeypatch.setattr(update_program, "measure_free", lambda _path: 1_000_000)
    with pytest.raises(StoreError, match="too little room: the update needs 2"):
        installed.update.bring(installed.publisher.publish("0.2.0"), NOW)
    assert list_left(installed.place) == set()


def test_versions_before_the_last_two_go(installed):
    for version in ("0.2.0", "0.3.0", "0.4.0"):
        installed.update.bring(installed.publisher.publish(version), NOW)
        # As the started version does once it answers.
        installed.place.prove(installed.place.find_entry(version))
    assert list_left(installed.place) == {"0.3.0", "0.4.0", "chosen.json"}
    assert installed.place.read_choice().before == "0.3.0"


# Each line of it is a power cut at another moment: the child ends itself at the n-th thing that
# Python does to a file, without a chance to tidy up.
CUT = """
import os, shutil, sys
from datetime import UTC, datetime, timedelta
from pathlib import Path
from qcapp.release.place import ProgramPlace
from qcapp.settings import Settings
from qcapp.usecases.update_program import Update
from qcapp.store.upkeep.backup import check_database

folder, file, key, first, step = Path(sys.argv[1]), *sys.argv[2:4], *map(int, sys.argv[4:6])
TOUCHED = {"open", "os.rename", "os.mkdir", "os.remove", "os.rmdir", "os.chmod", "sqlite3.connect"}
# A process that ends leaves to the system what it wrote: this test is about the order alone.
os.fsync = lambda number: None
# Whatever the trial does, another process does it.
no_trial = lambda *words: None
at = first
while True:
    child = os.fork()
    if child == 0:
        seen = 0
        def cut(event, words):
            global seen
            if event in TOUCHED:
                seen += 1
                if seen == at:
                    os._exit(9)
        place = ProgramPlace(folder / "qcapp", "qcapp")
        settings = Settings(database_url=f"sqlite:///{folder / 'yard.db'}", key_file=folder / "k")
        update = Update(place, settings, "0.1.0", Path(key), lambda step: None, no_trial)
        sys.addaudithook(cut)
        update.bring(Path(file), datetime.now(UTC) + timedelta(seconds=at))
        os._exit(0)
    code = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
    place = ProgramPlace(folder / "qcapp", "qcapp")
    version = place.read_choice().version
    entry = place.find_entry(version)
    whole = entry.read_bytes() == (Path(sys.argv[6 + bool(version)])).read_bytes()
    inside = (entry.parent / "_internal" / "words.txt").read_text().split()[-1]
    print(at, code, version or "0.1.0", inside, whole, check_database(folder / "yard.db").seq)
    if code == 0:
        break
    assert code == 9, code
    if version:
        shutil.rmtree(folder / "qcapp" / "versions")
    at += step
"""


def test_a_power_cut_at_any_moment_leaves_one_whole_program_and_the_records(installed, tmp_path):
    file = installed.publisher.publish("0.2.0")
    programs = [installed.place.root / "qcapp", file.with_suffix("") / "qcapp"]
    words = [tmp_path, file, installed.publisher.public_path, 1, 3, *programs]
    done = subprocess.run(
        [sys.executable, "-c", CUT, *map(str, words)],
        capture_output=True, text=True, check=False, timeout=120, cwd=Path(__file__).parents[2],
    )  # fmt: skip
    assert done.returncode == 0, done.stderr[-2000:]
    lines = [line.split() for line in done.stdout.splitlines()]
    assert len(lines) > 20, "it was cut at many moments"
    for _at, _code, version, inside, is_whole, seq in lines:
        assert version == inside and is_whole == "True" and seq == "0"
    assert lines[0][2] == "0.1.0" and lines[-1][1:3] == ["0", "0.2.0"]
    assert len(list_copies(installed)) == 1, "what was cut off is tidied away"
    # Once the new one is chosen it stays chosen: whatever was cut off later.
    versions = [line[2] for line in lines]
    assert versions == sorted(versions)


def hold(first: str = "") -> str:
    """Lines that write down that the program was started, and with which words."""
    return (
        f"open(os.path.dirname(sys.argv[0]) + '/started', 'a').write(repr(sys.argv[1:]))\n{first}"
    )


def choose_new(installed, first: str) -> None:
    """0.2.0 is chosen and not proven, as an update leaves it."""
    write_program(installed.place.versions / "0.2.0", "0.2.0", hold(first))
    copy = Path(installed.settings.key_file).with_name("yard.before-0.2.0.db")
    shutil.copyfile(Path(installed.settings.key_file).with_name("yard.db"), copy)
    installed.place.choose(Choice("0.2.0", "", is_proven=False, copy=str(copy)))


def test_a_version_that_fails_with_the_real_records_is_given_up(installed, tmp_path):
    """The new one ends at its start; the one before runs with the same words."""
    choose_new(installed, "raise SystemExit(3)")
    write_again(installed.place, hold("raise SystemExit(0)"))
    put = []
    code = run_watched(installed.place, ["start", "--port", "1"], put.append, seconds=10)
    assert code == 0 and put == [str(tmp_path / "yard.before-0.2.0.db")]
    choice = installed.place.read_choice()
    assert choice.version == "" and "0.2.0: exit code 3" in choice.failed
    assert "exit code 3" in tell_given_up(choice)
    assert (installed.place.root / "started").read_text() == "['start', '--port', '1']"


def test_a_version_that_stays_silent_is_given_up(installed):
    choose_new(installed, "import time; time.sleep(60)")
    write_again(installed.place, hold("raise SystemExit(0)"))
    assert run_watched(installed.place, ["start"], lambda _copy: None, seconds=1) == 0
    assert "no answer in 1 s" in installed.place.read_choice().failed


def write_again(place: ProgramPlace, first: str) -> None:
    shutil.rmtree(place.root / "_internal")
    (place.root / "qcapp").unlink()
    for path in write_program(place.root.with_name("again"), "0.1.0", first).parent.iterdir():
        path.rename(place.root / path.name)


def test_a_version_that_proves_itself_is_left_running(installed):
    choose_new(installed, "")
    port = find_free_port()
    code = (
        "import sys; from pathlib import Path; from qcapp.release.launch import run_watched;"
        "from qcapp.release.place import ProgramPlace;"
        "sys.exit(run_watched(ProgramPlace(Path(sys.argv[1]), 'qcapp'), sys.argv[2:], print))"
    )
    words = [sys.executable, "-c", code, str(installed.place.root), "start", "--port", str(port)]
    process = subprocess.Popen(words, start_new_session=True)
    try:
        end = time.monotonic() + 15
        while ask_version(port) != "0.2.0" and time.monotonic() < end:
            time.sleep(0.05)
        installed.place.prove(installed.place.root / "qcapp")
        assert not installed.place.read_choice().is_proven, (
            "the old program proves nothing of the new"
        )
        installed.place.prove(installed.place.find_entry("0.2.0"))
        assert installed.place.read_choice().is_proven
        time.sleep(0.5)
        assert process.poll() is None and ask_version(port) == "0.2.0"
    finally:
        os.killpg(process.pid, signal.SIGTERM)
        process.wait(10)
    assert installed.place.read_choice().version == "0.2.0"


def test_double_click_hands_over_to_the_chosen_version(installed, monkeypatch):
    assert hand_over(installed.place, ["start"], print) is None, "nothing was chosen yet"
    choose_new(installed, "")
    started = []
    monkeypatch.setattr(launch.os, "execve", lambda *words: started.append(words))
    monkeypatch.setattr(launch, "_start", lambda *_words: subprocess.Popen(["true"]))
    monkeypatch.setattr(launch, "run_watched", lambda *_words: 7)
    assert hand_over(installed.place, ["start"], print) == 7, "until it is proven it is watched"
    assert not started
    hand_over(installed.place, ["rate", "--faults", "3"], print)
    entry, words, surroundings = started[0]
    assert words == [str(installed.place.versions / "0.2.0" / "qcapp"), "rate", "--faults", "3"]
    assert str(entry) == words[0] and surroundings["PYINSTALLER_RESET_ENVIRONMENT"] == "1"


def test_a_choice_that_cannot_be_read_or_is_not_there_is_the_unzipped_one(installed):
    installed.place.choose(Choice("0.9.0"))
    assert installed.place.read_choice() == Choice(), "its folder is gone"
    for text in ("", "[]", "{", '{"other": 1}'):
        (installed.place.versions / "chosen.json").write_text(text)
        assert installed.place.read_choice() == Choice()


def test_a_program_knows_its_place_as_unzipped_and_as_a_version(installed):
    write_program(installed.place.versions / "0.2.0", "0.2.0")
    for program in (installed.place.root / "qcapp", installed.place.versions / "0.2.0" / "qcapp"):
        assert find_place_of(program) == installed.place


def test_what_starts_by_itself_is_the_unzipped_program_whatever_version_runs(installed):
    entry = write_program(installed.place.versions / "0.2.0", "0.2.0")
    words = describe_self(8000, find_place_of(entry))
    assert words == [str(installed.place.root / "qcapp"), "start", "--no-browser", "--port", "8000"]
    assert describe_self(8000, None)[:3] == [sys.executable, "-m", "qcapp"]


def test_records_are_put_back_only_where_their_shape_has_changed(tmp_path):
    records, copy = tmp_path / "yard.db", tmp_path / "copy.db"
    for path in (records, copy):
        open_small_store(path)[0].close()
    assert put_back(records, copy, NOW) is None
    change_shape(records, "9999next")
    kept = put_back(records, copy, NOW)
    assert read_shape(records) == read_shape(copy) != read_shape(kept) == "9999next"
    assert put_back(records, copy, NOW) is None, "a second time is as the first"
    assert check_database(records)
    assert put_back(records, tmp_path / "none.db", NOW) is None
    assert read_shape(tmp_path / "none.db") is None


def change_shape(path, number):
    with sqlite3.connect(path) as connection:
        connection.execute("UPDATE alembic_version SET version_num = ?", (number,))


def test_runner_brings_an_update_in_the_background_and_says_how_it_ended(installed, monkeypatch):
    runner = Runner(installed.settings, find_free_port())
    runner.publisher = installed.publisher.public_path
    monkeypatch.setattr("qcapp.cli.runner.need_own_place", lambda: installed.place)
    stopped = []
    runner._stop = lambda: stopped.append(True)

    def bring(file):
        folder = file.with_suffix(".upload")
        folder.mkdir()
        runner.begin_update(shutil.copy(file, folder / "update.zip"), "new.zip")
        end = time.monotonic() + 20
        while not (runner.update.is_over or stopped) and time.monotonic() < end:
            time.sleep(0.02)
        time.sleep(0.05)
        assert not folder.exists(), "the upload is taken away"

    bring(installed.publisher.publish("0.0.1"))
    assert "not newer" in str(runner.update.problem) and not stopped and runner.chosen is None
    bring(installed.publisher.publish("0.2.0"))
    assert stopped and runner.chosen == installed.place and "0.2.0" in runner.update.step


def test_a_running_version_is_proven_by_its_own_answer(installed, monkeypatch):
    choose_new(installed, "")
    entry = installed.place.find_entry("0.2.0")
    monkeypatch.setattr("qcapp.cli.runner.sys.executable", str(entry))
    monkeypatch.setattr("qcapp.cli.runner.await_answer", lambda *_words: False)
    prove(installed.place, 1)
    assert not installed.place.read_choice().is_proven
    monkeypatch.setattr("qcapp.cli.runner.await_answer", lambda *_words: True)
    prove(installed.place, 1)
    assert installed.place.read_choice().is_proven
