"""python -m qcapp"""

from qcapp.cli import run

run()
