"""Settings that every test shares: one thread for linear algebra, and property tests that repeat themselves."""

import os

from hypothesis import settings

# Before numpy is first imported: sums in another order would differ in the last bit from one machine to the next.
for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(name, "1")

# No deadline: a shared machine can pause anywhere. In CI the examples are always the same, so that a red run is
# the change's doing; elsewhere they differ each time, and look further.
settings.register_profile("local", deadline=None)
settings.register_profile("ci", deadline=None, derandomize=True)
settings.load_profile("ci" if os.environ.get("CI") else "local")
