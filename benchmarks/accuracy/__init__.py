"""How well tracings are read: every number against a truth, on seeds kept for reporting."""

import os

for _name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
    os.environ.setdefault(_name, "1")  # before numpy is loaded: times are those of one thread
