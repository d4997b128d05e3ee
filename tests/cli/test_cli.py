"""Commands as a person runs them: answers on stdout, errors in one line, exit codes."""

import contextlib
import io
import json
import os
import re
import shutil
import sqlite3
import subprocess
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path
from unittest import mock

import pytest
from scipy.stats import mannwhitneyu

from qcapp.cli import main
from qcapp.inspection.filters import Filters
from qcapp.scenario.model import load_scenario
from qcapp.settings import Settings
from qcapp.store.engine import Store
from qcapp.sync.push import parse_push, receive_push
from qcapp.usecases.load_trainer import load_figures
from qcapp.usecases.open_store import open_store
from tests.builders import NOW, Phone, build_push, build_small_checklist, open_small_store
from tests.sync.test_export_file import build_file, pack_photo
from tests.web.test_photos import HTML

pytestmark = pytest.mark.slow

ROOT = Path(__file__).resolve().parent.parent.parent


def run(*words, database="sqlite:///:memory:"):
    """As `qcapp` runs, in this process: starting Python and loading the server's libraries takes
    longer than most commands.
    """
    command = ["qcapp", *map(str, words)]
    out, err = (
        io.TextIOWrapper(io.BytesIO(), encoding="utf-8", write_through=True) for _ in range(2)
    )
    with (
        mock.patch.dict(os.environ, QCAPP_DATABASE_URL=database),
        mock.patch.object(sys, "argv", command),
        contextlib.redirect_stdout(out),
        contextlib.redirect_stderr(err),
        pytest.raises(SystemExit) as end,
    ):
        main.run()
    said = (stream.buffer.getvalue().decode() for stream in (out, err))
    return subprocess.CompletedProcess(command, end.value.code, *said)


def make_yard(url: str) -> str:
    """An empty yard at this place, as the first start of a server makes it."""
    open_store(Settings(database_url=url)).close()
    return url


def test_a_command_runs_as_a_process_of_its_own():
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    done = subprocess.run(
        [sys.executable, "-m", "qcapp", "plan", "--lot", "500", "--aql", "2.5"],
        env=environment,
        check=False,
        capture_output=True,
        text=True,
        timeout=120,
    )
    assert (done.returncode, json.loads(done.stdout)["letter"], done.stderr) == (0, "H", "")


def answer(*words, **more):
    done = run(*words, **more)
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    """A filled demo database: (url, figures)."""
    url = f"sqlite:///{tmp_path_factory.mktemp('demo') / 'demo.sqlite3'}"
    return url, answer("demo", "--no-serve", "--json", database=url)


@pytest.mark.parametrize(
    ("words", "code", "says"),
    [
        (["nonsense"], 2, "No such command"),
        (["serve", "--port", "x"], 2, "--port"),
        (["export", "dreams"], 2, "stoves, readings or log"),
        (["serve", "--host", "0.0.0.0"], 1, "name that proxy with --proxy"),
        (["checklist", "show", "none"], 1, "finished-stove"),
        (["export", "stoves", "--batch", "NONE"], 1, "no such batch"),
        (["rate", "--faults", "5", "--inspected", "4"], 1, "5 failed of 4"),
        (["rate", "--faults", "0", "--inspected", "0"], 1, "inspected"),
        (["compare", "--a", "14", "--b", "6/240"], 1, "14/80"),
        (["rank", "/no/such/file.csv"], 1, "cannot be read"),
        (["backup", "/no/such/place.db"], 1, "pg_dump --format=custom"),
        (["restore", "/no/such/file.db"], 1, "pg_dump --format=custom"),
        (["import", "/no/such/file.txt"], 1, "cannot be read"),
    ],
)
def test_error_is_one_line_with_a_way_out(words, code, says):
    done = run(*words)
    assert done.returncode == code and done.stdout == ""
    assert (
        done.stderr.count("\n") == 1 and done.stderr.startswith("qcapp: ") and says in done.stderr
    )


def test_help_is_shown_without_a_command():
    done = run()
    assert done.returncode == 0 and "serve" in done.stdout


def test_rate_is_the_published_one():
    """Newcombe 1998, 81 of 263: Wilson 0.2553 to 0.3662 (tests/reference/proportions.json)."""
    found = answer("rate", "--faults", 81, "--inspected", 263)
    assert (found["faults"], found["inspected"], found["method"]) == (81, 263, "wilson")
    assert (round(found["lower"], 4), round(found["upper"], 4)) == (0.2553, 0.3662)


def test_compare_is_the_published_one():
    """Newcombe 1998, 56/70 against 48/80: difference 0.2, 0.0524 to 0.3339."""
    found = answer("compare", "--a", "56/70", "--b", "48/80")
    assert (round(found["difference"], 4), round(found["lower"], 4), round(found["upper"], 4)) == (
        0.2,
        0.0524,
        0.3339,
    )
    assert 0 < found["p"] < 0.02 and found["risk_ratio"]


def test_plan_is_the_tables():
    """MIL-STD-105E Tables I and II-A: lot 281 to 500, level II is letter H; AQL 2.5: 50, 3, 4."""
    assert answer("plan", "--lot", 500, "--aql", "2.5") == {
        "letter": "H",
        "n": 50,
        "ac": 3,
        "re": 4,
        "every_stove": False,
    }
    assert answer("plan", "--lot", 5, "--aql", "0.65")["every_stove"] is True


def test_curve_and_bound_are_exact():
    """Hypergeometric by hand: one bad stove of 60 stays unseen in 13 with chance 47/60."""
    points = answer("curve", "--lot", 60, "--n", 13, "--ac", 0)["points"]
    assert points[0]["acceptance"] == 1 and abs(points[1]["acceptance"] - 47 / 60) < 1e-12
    left = answer("bound", "--lot", 60, "--n", 13, "--found", 0)["bad_left_at_most"]
    assert points[left]["acceptance"] > 0.05 >= points[left + 1]["acceptance"]


def test_rank_draws_few_stoves_towards_the_yard(tmp_path):
    file = tmp_path / "rank.csv"
    file.write_text("name,faults,inspected\nAno,9,30\nBeda,1,2\nCiro,2,200\nDodo,3,150\n")
    found = answer("rank", file)
    rates = {person["name"]: person for person in found["people"]}
    assert found["mean"] < rates["Beda"]["rate"] < rates["Beda"]["raw"]


def test_learn_finds_a_falling_rate(tmp_path):
    file = tmp_path / "learn.csv"
    rows = [f"{n},{1 if n < 10 or n % 17 == 0 else 0}" for n in range(100)]
    file.write_text("made_before,failed\n" + "\n".join(rows) + "\n")
    found = answer("learn", file)
    assert found["slope"]["high"] < 0 and found["is_clear"]


def test_bad_cell_is_named_with_line_and_column(tmp_path):
    file = tmp_path / "rank.csv"
    file.write_text("name,faults,inspected\nAno,2,30\nBeda,two,20\n")
    assert f"{file}:3 faults" in run("rank", file).stderr
    file.write_text("name,faults\nAno,2\n")
    assert "no column inspected" in run("rank", file).stderr


def test_checklist_check_prints_every_error_with_file_line_and_key(tmp_path):
    good = (ROOT / "checklists" / "finished-stove.yaml").read_text(encoding="utf-8")
    bad = good.replace("severity: critical", "severity: deadly", 1).replace(
        "basis: common practice, no source", "", 1
    )
    (tmp_path / "finished-stove.yaml").write_text(bad, encoding="utf-8")
    shutil.copy(ROOT / "checklists" / "round-stove.svg", tmp_path)
    shutil.copytree(ROOT / "checklists" / "pictures", tmp_path / "pictures")
    done = run("checklist", "check", tmp_path / "finished-stove.yaml")
    line = 1 + bad[: bad.index("severity: deadly")].count("\n")
    assert done.returncode == 1 and done.stderr.count("\n") >= 2
    assert (
        f"finished-stove.yaml:{line}" in done.stderr
        and "severity" in done.stderr
        and "basis" in done.stderr
    )


def test_demo_shows_its_planted_causes(demo):
    """What is planted stands in demo/scenario.yaml; here it must come out of the figures."""

    url, figures = demo
    assert figures["batches"] == 6 and figures["stoves"] >= 400
    found = load_figures(Store(url), Settings(database_url=url), Filters(stage="finished"))
    first = found.teach_rows[0]
    assert first.step == "cut-door-opening" and first.strength in ("strong", "good")
    planted = {
        code
        for effect in load_planted()
        if effect.check == "door-opening-width" and not effect.drift_per_day
        for code in effect.artisans
    }
    by_rate = sorted(first.who, key=lambda one: -one.rate.failed / max(1, one.rate.inspected))
    assert {one.artisan for one in by_rate[:4]} == planted
    marks = {
        table.step: {row.artisan for row in table.rows if row.mark == "above"}
        for table in found.step_tables
    }
    assert planted <= marks["cut-door-opening"]
    liners = load_figures(Store(url), Settings(database_url=url), Filters(stage="fired-liner"))
    (pierced,) = [table for table in liners.step_tables if table.step == "pierce-grate"]
    marked = {row.artisan for row in pierced.rows if row.mark == "above"}
    (near_edge,) = [effect for effect in load_planted() if effect.check == "grate-edge-margin"]
    assert set(near_edge.artisans) == marked


def test_demo_shows_the_drift_of_the_worn_template(demo):
    """Of its users' stoves, the newest third is wider than those before the known day,
    and not by chance.
    """

    url, _figures = demo
    (drift,) = [effect for effect in load_planted() if effect.drift_per_day]
    medium = {
        row["batch"]
        for row in answer("export", "stoves", "--json", database=url)
        if row["size"] == "medium"
    }
    rows = [
        row
        for row in answer("export", "readings", "--json", database=url)
        if row["check"] == drift.check
        and row["is_first_pass"]
        and row["artisan"] in drift.artisans
        and row["batch"] in medium
    ]
    began = (datetime.now(UTC) - timedelta(days=drift.from_days_ago)).isoformat()[:10]
    sound = [row["value"] for row in rows if row["captured_at"][:10] < began]
    worn = sorted(
        (row for row in rows if row["captured_at"][:10] >= began),
        key=lambda row: row["captured_at"],
    )
    newest = [row["value"] for row in worn[len(worn) * 2 // 3 :]]
    assert len(sound) >= 20 and len(newest) >= 10
    assert mannwhitneyu(newest, sound, alternative="greater").pvalue < 0.001


def load_planted():

    return load_scenario(ROOT / "demo" / "scenario.yaml").planted


def test_demo_is_filled_once_and_never_over_a_real_yard(demo, tmp_path):
    url, figures = demo
    assert answer("demo", "--no-serve", "--json", database=url) == figures
    real = f"sqlite:///{tmp_path / 'real.sqlite3'}"

    store, checklist = open_small_store(tmp_path / "real.sqlite3")
    receive_push(
        store,
        parse_push(build_push([Phone(checklist).inspect("B1-001")])),
        relayed_by=Phone.device_id,
        now=NOW,
    )
    store.close()
    for flags in ([], ["--fresh"]):
        done = run("demo", "--no-serve", *flags, database=real)
        assert done.returncode == 1 and "not from a demo" in done.stderr
    assert len(run("export", "log", database=real).stdout.splitlines()) == 1


def test_rebuild_makes_the_same_figures_and_finds_an_altered_log(demo, tmp_path):

    url, _figures = demo
    path = tmp_path / "copy.sqlite3"
    with sqlite3.connect(url.removeprefix("sqlite:///")) as source, sqlite3.connect(path) as copy:
        source.backup(copy)
    copied = f"sqlite:///{path}"
    before = run("export", "readings", database=copied).stdout
    rows = answer("export", "stoves", "--json", database=copied)
    assert answer("rebuild", "--json", database=copied)["stoves"] == len(rows)
    assert run("export", "readings", database=copied).stdout == before and before.count("\n") > 1000
    with sqlite3.connect(path) as altered:
        altered.execute("UPDATE log SET hash = 'x' WHERE seq = 7")
    done = run("rebuild", database=copied)
    assert done.returncode == 1 and "record 7" in done.stderr


def test_yard_file_is_entered_and_can_be_entered_again(tmp_path):
    url = make_yard(f"sqlite:///{tmp_path / 'yard.sqlite3'}")
    guide = (ROOT / "static" / "guide" / "make-it-yours.md").read_text(encoding="utf-8")
    text = re.search(r"```yaml\n(people:.*?)```", guide, re.DOTALL)[1]
    (tmp_path / "yard.yaml").write_text(text, encoding="utf-8")
    for _ in range(2):
        assert answer("yard", tmp_path / "yard.yaml", "--json", database=url) == {
            "people": 2,
            "batches": 1,
        }
    assert run("export", "stoves", "--batch", "B1", database=url).returncode == 0


def test_export_gives_stoves_as_json_and_csv(demo, tmp_path):
    url, figures = demo
    rows = answer("export", "stoves", "--json", database=url)
    assert sum(row["stage"] == "finished" for row in rows) == figures["stoves"]
    file = tmp_path / "stoves.csv"
    run("export", "stoves", "--out", file, database=url)
    assert len(file.read_text().splitlines()) == len(rows) + 1


def test_backup_and_restore_say_what_is_where(demo, tmp_path):
    url, figures = demo
    yard = f"sqlite:///{tmp_path / 'yard.sqlite3'}"
    made = answer("backup", tmp_path / "yard.sqlite3", "--json", database=url)
    assert made["records"] == figures["records"] and len(made["chain"]) == 64
    assert "never overwritten" in run("backup", tmp_path / "yard.sqlite3", database=url).stderr
    said = run("backup", tmp_path / "b.sqlite3", database=yard).stdout
    assert made["chain"] in said and str(made["records"]) in said
    done = run("restore", tmp_path / "b.sqlite3", database=yard)
    assert (
        done.returncode == 0
        and "Phones notice it" in done.stdout
        and "yard.replaced-" in done.stdout
    )
    assert answer(
        "restore",
        tmp_path / "b.sqlite3",
        "--json",
        database=f"sqlite:///{tmp_path / 'new.sqlite3'}",
    ) == {"records": made["records"], "chain": made["chain"], "kept": None}


def test_import_takes_a_file_once_and_again(tmp_path):

    checklist = build_small_checklist()
    file = tmp_path / "unsent.txt"
    event = Phone(checklist).inspect("B1-001")
    file.write_text(
        json.dumps(
            {
                "format": "records/1",
                "device_id": "d",
                "made_at": "t",
                "events": [event],
                "definitions": [checklist.compiled()],
                "photos": [],
            }
        )
    )
    url = make_yard(f"sqlite:///{tmp_path / 'yard.sqlite3'}")
    for _ in range(2):
        found = answer("import", file, "--json", database=url)
        assert found["counts"] == {"quarantined": 1} and found["quarantined"][0]["reason"] == {
            "code": "unknown_phone",
            "params": {},
        }
    assert len(run("export", "log", database=url).stdout.splitlines()) == 1
    said = run("import", file, database=url).stdout.splitlines()
    assert said[0].startswith("1 records: 1 quarantined; photos: 0 new")
    assert event["id"] in said[1] and "never joined" in said[1], (
        "each record that is held back says why"
    )


def test_photo_that_is_not_taken_says_why(tmp_path):
    file = tmp_path / "unsent.txt"
    file.write_bytes(build_file(photos=[pack_photo(HTML)]))
    url = make_yard(f"sqlite:///{tmp_path / 'yard.db'}")
    said = run("import", file, database=url).stdout.splitlines()
    assert "1 refused" in said[0] and said[1].startswith("  photo ")


def test_backup_of_another_server_is_put_in_place_with_a_caution(tmp_path):
    urls = [f"sqlite:///{tmp_path / name}" for name in ("one.db", "other.db")]
    for url in urls:
        make_yard(url)
    assert run("backup", tmp_path / "copy.db", database=urls[0]).returncode == 0
    assert "another server" not in run("restore", tmp_path / "copy.db", database=urls[0]).stdout
    assert "another server" in run("restore", tmp_path / "copy.db", database=urls[1]).stdout
