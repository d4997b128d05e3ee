"""python -m qcapp"""

from qcapp.cli.main import run

run()
