#!/usr/bin/env python3
"""The demo in one command: environment, installation, demo data, server.

Needs Python 3.11 or later and nothing else. Everything it makes stays in this
folder, in .venv/ and .data/; delete the two to be as before.
"""

import argparse
import os
import subprocess
import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE))

from environment import CannotPrepare, ready_environment


def read_flags(arguments):
    """Answer --help at once; what is not known here is left to `qcapp demo` to judge."""
    parser = argparse.ArgumentParser(
        prog="demo/run.py", description="Set up and start the demo yard."
    )
    parser.add_argument("--port", help="port of the server (default: the program's own)")
    parser.add_argument(
        "--fresh", action="store_true", help="throw the demo's data away and make it anew"
    )
    parser.add_argument("--no-serve", action="store_true", help="fill the database, then stop")
    parser.parse_known_args(arguments)
    return list(arguments)


def demo_command(python, flags):
    """The demo's command line, by the environment's own interpreter."""
    # -P: a folder named like the program in the caller's directory must not be run instead.
    return [str(python), "-P", "-m", "qcapp", "demo", *flags]


def demo_surroundings():
    """The environment variables of the demo: its own database, whatever else is set."""
    data = HERE / ".data"
    data.mkdir(exist_ok=True)
    return {**os.environ, "QCAPP_DATABASE_URL": "sqlite:///" + (data / "demo.sqlite3").as_posix()}


def start(command, surroundings):
    """Become the command where the system can, so that Ctrl-C and signals reach it."""
    sys.stdout.flush()
    if os.name == "nt":
        return subprocess.call(command, env=surroundings)
    return os.execve(command[0], command, surroundings)


def main(arguments):
    flags = read_flags(arguments)
    try:
        python = ready_environment(HERE / ".venv", HERE.parent, HERE / "requirements.lock")
    except CannotPrepare as error:
        print(f"demo: {error}", file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        print(
            "demo: stopped; start it again and it goes on from a clean environment", file=sys.stderr
        )
        return 130
    print("starting the demo yard", flush=True)
    return start(demo_command(python, flags), demo_surroundings())


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
