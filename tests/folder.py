"""Every command of the guide's table where no checkout is: python3 -m tests.folder (from
tests/.venv).

    python3 -m tests.folder [FOLDER]  in the folder of .ci/build_folder.py, with Python hidden
    python3 -m tests.folder --wheel   in a wheel that is built and installed for it

The program runs with an empty environment, no PATH and a home of its own, as on a machine where
nothing else was installed. Exit 1: what went wrong, printed.
"""

import hashlib
import json
import os
import re
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import time
import urllib.error
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from qcapp.cli.main import COMMANDS
from qcapp.release.package import pack_folder, sign_folder
from qcapp.release.signing import write_public
from tests.builders import Phone, build_small_checklist
from tests.documents.samples import sign_sample
from tests.sync.test_export_file import build_file

CHECKOUT = Path(__file__).resolve().parent.parent
FOLDER = CHECKOUT / ".ci" / "dist" / "qcapp"
DATABASE = "demo.db"
START_S = 60
# A whole folder is written to the disk, file by file, and started.
UPDATE_S = 600
PROGRAMME = """
name: River programme
address: http://127.0.0.1
database: programme.db
yards:
  - {name: North yard, address: "http://north.example", database: north.db}
"""
YARD = """
people:
  - {code: Z01, name: Ano, trades: [metalwork], started_on: 2020-01-01}
batches: []
"""
VALUES = "value\n" + "\n".join(str(100 + n % 7 / 10) for n in range(40))
COUNTS = "faults,inspected\n" + "\n".join(f"{n % 4},40" for n in range(12))
NAMED = "name,faults,inspected\nA,3,40\nB,9,40\nC,2,50\nD,5,44\n"
LEARNED = "made_before,failed\n" + "\n".join(f"{n},{int(n % (2 + n // 8) == 0)}" for n in range(40))
SEEN = "stove,inspector,verdict\n" + "\n".join(
    f"S{stove},{who},{'fail' if (stove + at) % 5 == 0 else 'pass'}"
    for stove in range(12)
    for at, who in enumerate(("I1", "I2", "I3"))
)
MEASURED = "stove,inspector,repeat,value\n" + "\n".join(
    f"S{stove},I{who},{again},{100 + stove + who / 10 + again / 20}"
    for stove in range(5)
    for who in range(2)
    for again in range(2)
)
# Little of it can be packed away.
STANDS_FOR_PROGRAM = "\n".join(hashlib.sha256(bytes([n])).hexdigest() for n in range(100))
FILES = {
    "programme.yaml": PROGRAMME,
    "people.yaml": YARD,
    "values.csv": VALUES,
    "counts.csv": COUNTS,
    "named.csv": NAMED,
    "learned.csv": LEARNED,
    "seen.csv": SEEN,
    "measured.csv": MEASURED,
    "built/qcapp.exe" if os.name == "nt" else "built/qcapp": STANDS_FOR_PROGRAM,
}
Said = Callable[[str], bool]


def is_json(said: str) -> bool:
    return bool(json.loads(said))


def has(*words: str) -> Said:
    return lambda said: all(word in said for word in words)


# In this order: what one leaves, the next takes. A word that ends with ! is a file it must leave.
CALLS: tuple[tuple[str, Said], ...] = (
    ("demo --no-serve --json", is_json),
    ("account link", has("/welcome/")),
    ("account list --json", lambda said: json.loads(said) == []),
    ("person export A02", is_json),
    ("person erase A02 --yes", has("A02")),
    ("yard people.yaml", has("1")),
    ("checklist check own.yaml", has("own.yaml")),
    ("checklist show finished-stove", has("finished-stove")),
    ("sheet finished-stove --out sheet.pdf!", has("sheet.pdf")),
    ("tags B1 --out tags.pdf!", has("tags.pdf")),
    ("export stoves", has("serial")),
    ("export readings", has("serial")),
    ("export log", has('"kind"')),
    ("rate --faults 3 --inspected 40", is_json),
    ("compare --a 14/80 --b 6/240", is_json),
    ("rank named.csv", is_json),
    ("learn learned.csv", is_json),
    ("plan --lot 500 --aql 2.5", is_json),
    ("sample --lot 90 --n 13 --seed S", is_json),
    ("curve --lot 500 --n 50 --ac 3", is_json),
    ("bound --lot 60 --n 13 --found 0", is_json),
    ("verify summary.json", has("good")),
    ("verify --log", has("good")),
    ("backup copy.db!", has("copy.db")),
    ("restore copy.db", has("records are in place")),
    ("move --to sqlite:///moved.db", has("moved.db")),
    ("import work.qcrecords", has("1")),
    ("chart values.csv --kind individuals", is_json),
    ("chart values.csv --kind ewma", is_json),
    ("chart values.csv --kind cusum", is_json),
    ("chart counts.csv --kind p", is_json),
    ("agree seen.csv", is_json),
    ("agree measured.csv", is_json),
    ("capability values.csv --lower 97 --upper 103", is_json),
    ("rebuild", has("records")),
    ("release key release.pem", has("PUBLIC KEY")),
    ("release sign built --key release.pem --out release.zip!", has("1 files")),
    ("lan init --address 127.0.0.9 --port 18443 --bootstrap-port 18080", has("PRIVATE KEY")),
    ("lan check --json", is_json),
    ("lan move --to 127.0.0.8 --yes", has("127.0.0.8")),
)
# What a server of each command must answer: (words, paths).
SERVED = (
    ("start --no-browser --port {port}", ("/", "/phone/", "/guide", "/sign-in")),
    ("serve --port {port}", ("/phone/", "/guide")),
    ("programme programme.yaml --port {port}", ("/guide",)),
)


def list_tried() -> set[str]:
    """Commands, such as "rate" and "lan init", that the calls above and try_update run."""
    lines = [words for words, _wanted in (*CALLS, *SERVED)] + ["update"]
    groups = {name for name, entry in COMMANDS.items() if not isinstance(entry, str)}
    return {" ".join(line.split()[: 2 if line.split()[0] in groups else 1]) for line in lines}


class Place:
    """An empty home in which the folder's program is all there is."""

    def __init__(self, folder: Path, home: Path) -> None:
        self.program, self.home = folder / ("qcapp.exe" if os.name == "nt" else "qcapp"), home
        self.start, self.more = [str(self.program)], {}

    def surroundings(self, database: str | None = DATABASE) -> dict[str, str]:
        kept = {"HOME": str(self.home), "PATH": "", "QCAPP_KEY_FILE": "demo.pem"}
        kept |= self.more
        return {**kept, "QCAPP_DATABASE_URL": f"sqlite:///{database}"} if database else kept

    def call(self, words: str, seconds: float = 120) -> subprocess.CompletedProcess[str]:
        command = [*self.start, *words.replace("!", "").split()]
        return subprocess.run(
            command,
            cwd=self.home,
            env=self.surroundings(),
            check=False,
            capture_output=True,
            text=True,
            encoding="utf-8",
            timeout=seconds,
        )

    @contextmanager
    def serving(self, words: str) -> Iterator[tuple[str, subprocess.Popen[str]]]:
        """(address, the process) until the end."""
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            port = free.getsockname()[1]
        command = [*self.start, *words.format(port=port).split()]
        log = self.home / "server.log"
        with log.open("w", encoding="utf-8") as output:
            process = subprocess.Popen(
                command, cwd=self.home, env=self.surroundings(), stdout=output, stderr=output
            )
        try:
            wait_for(f"http://127.0.0.1:{port}/phone/", process, log)
            yield f"http://127.0.0.1:{port}", process
        finally:
            process.send_signal(signal.SIGINT)
            process.wait(20)


class WheelPlace(Place):
    """The same with a wheel in place of the folder; its libraries are those of the tests."""

    def __init__(self, home: Path) -> None:
        super().__init__(home, home)
        built, site = home / "wheel", home / "site"
        pack = [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(built)]
        subprocess.run(pack, cwd=CHECKOUT, check=True, capture_output=True)
        (wheel,) = built.glob("*.whl")
        pip = [sys.executable, "-m", "pip", "install", "-q", "--no-deps", "--no-index"]
        subprocess.run([*pip, "--target", str(site), str(wheel)], check=True)
        self.start, self.more = [sys.executable, "-m", "qcapp"], {"PYTHONPATH": str(site)}
        where = [sys.executable, "-c", "import qcapp; print(qcapp.__file__)"]
        asked = subprocess.run(
            where, cwd=home, env=self.surroundings(), check=True, capture_output=True, text=True
        )
        assert asked.stdout.startswith(str(site)), "what is tried is the wheel"


def wait_for(address: str, process: subprocess.Popen[str], log: Path) -> None:
    end = time.monotonic() + START_S
    while time.monotonic() < end:
        if process.poll() is not None:
            break
        try:
            urllib.request.urlopen(address, timeout=5).read()
        except urllib.error.HTTPError:
            return
        except OSError:
            time.sleep(0.1)
        else:
            return
    raise AssertionError(f"no answer at {address}: {log.read_text(encoding='utf-8')[-2000:]}")


def fetch(address: str) -> bytes:
    return urllib.request.urlopen(address, timeout=60).read()


def prepare(home: Path) -> None:
    for name, text in FILES.items():
        (home / name).parent.mkdir(exist_ok=True)
        (home / name).write_text(text, encoding="utf-8")
    checklists = CHECKOUT / "checklists"
    for path in [*checklists.glob("*.svg"), *checklists.glob("*/*.svg")]:
        target = home / path.relative_to(checklists)
        target.parent.mkdir(exist_ok=True)
        target.write_bytes(path.read_bytes())
    (home / "own.yaml").write_bytes((checklists / "finished-stove.yaml").read_bytes())
    (home / "summary.json").write_text(json.dumps(sign_sample("good")), encoding="utf-8")
    work = build_file(Phone(build_small_checklist()).inspect("B1-001"))
    (home / "work.qcrecords").write_bytes(work)


def try_calls(place: Place, calls: tuple[tuple[str, Said], ...] = CALLS) -> list[str]:
    wrong = []
    for words, is_right in calls:
        began = time.monotonic()
        done = place.call(words)
        left = [place.home / word[:-1] for word in words.split() if word.endswith("!")]
        try:
            is_good = done.returncode == 0 and is_right(done.stdout)
        except ValueError:
            is_good = False
        is_good = is_good and all(path.stat().st_size > 1000 for path in left)
        print(f"{'ok' if is_good else 'FAILED':<8}{time.monotonic() - began:5.1f} s  {words}")
        if not is_good:
            wrong.append(
                f"{words}: exit {done.returncode}\n{done.stdout[-600:]}{done.stderr[-1500:]}"
            )
    return wrong


def try_servers(place: Place) -> None:
    for words, paths in SERVED:
        began = time.monotonic()
        with place.serving(words) as (base, _process):
            took = time.monotonic() - began
            for path in paths:
                assert len(fetch(base + path)) > 500, path
            if words.startswith("start"):
                again = place.call(f"start --no-browser --port {base.rpartition(':')[2]}")
                assert again.returncode == 0 and "running already" in again.stdout, again
        print(f"ok      {took:5.1f} s  {words} (until the first answer)")


def try_update(place: Place) -> None:
    """A release that says another version than its program: everything about it is good but the
    answer, so it is unpacked, started with a copy of the records, and not chosen.
    """
    began = time.monotonic()
    folder, key = place.home / "own" / "qcapp", Ed25519PrivateKey.generate()
    shutil.copytree(place.program.parent, folder)
    publisher = folder / "_internal" / "qcapp" / "release" / "publisher.pem"
    publisher.write_bytes(write_public(key.public_key()))
    sign_folder(folder, key, version="99.0", entry=place.program.name)
    pack_folder(folder, place.home / "new.zip")
    own = Place(folder, place.home)
    done = own.call("update new.zip", UPDATE_S)
    assert done.returncode == 1 and "the new version did not answer" in done.stderr, done
    assert "tried on a copy" in done.stdout, done
    assert not list((folder / "versions").iterdir()), "nothing of it is left"
    refused = place.call("update new.zip")
    assert refused.returncode == 1, refused
    assert "trust no update" in refused.stderr or "not signed" in refused.stderr, refused
    print(f"ok      {time.monotonic() - began:5.1f} s  update of a copy of this folder")


def try_buyer(place: Place) -> None:
    """A PDF, a spreadsheet and every room of the demo, from its server."""
    with place.serving("demo --port {port}") as (base, _process):
        said = (place.home / "server.log").read_text(encoding="utf-8")
        token = re.search(r"/s/[\w-]+", said)
        assert token, said
        assert fetch(f"{base}{token[0]}/summary.pdf").startswith(b"%PDF")
        assert fetch(f"{base}{token[0]}/tables.xlsx").startswith(b"PK")
        for path in ("/trainer", "/trainer/lessons", "/batches", "/batches/B1", "/yard", "/phone/"):
            assert len(fetch(base + path)) > 500, path
    print("ok               demo: buyer's PDF and spreadsheet, the trainer's and the lead's pages")


def refuse_update(place: Place) -> None:
    """What was installed with Python is updated in the same way."""
    done = place.call("update release.zip")
    assert done.returncode == 1 and "installed with Python" in done.stderr, done
    print("ok               update refuses")


def main() -> int:
    is_wheel = "--wheel" in sys.argv
    folder = Path(sys.argv[1]).resolve() if len(sys.argv) > 1 and not is_wheel else FOLDER
    with tempfile.TemporaryDirectory() as named:
        place = WheelPlace(Path(named)) if is_wheel else Place(folder, Path(named))
        prepare(place.home)
        wrong = try_calls(place)
        try_buyer(place)
        try_servers(place)
        (refuse_update if is_wheel else try_update)(place)
    where = "from the wheel" if is_wheel else "without Python"
    print("\n".join(wrong) or f"all {len(list_tried())} commands work {where}")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
