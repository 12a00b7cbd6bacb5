"""What all tests share."""

import os

# The matrices are small: threads of the algebra library only wait for each other. Set before numpy is loaded, and
# inherited by the workers and by every process that a test starts.
for _name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
    os.environ.setdefault(_name, "1")
