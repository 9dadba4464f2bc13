"""The site: settings, addresses, and what the process needs before anything else."""

import os

# The matrices here are of joints by joints, far too small to share out: several threads would only wait for each
# other, and for those of other requests. Read when numpy is first imported.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
