"""Offline quality control for hand-made ceramic-lined charcoal stoves."""

import os

__version__ = "0.1.0"

# Before NumPy starts: the tables here are small, and threads of its linear algebra that wait for
# each other cost more than they save, the more so beside other work.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
