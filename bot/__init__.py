"""Bucketside: a chat bot with which a household makes wine from kits together."""

import os

# Before numpy is loaded: the matrices here are small, and of several processes on a few cores the threads of each would
# only wait for those of the others (whole talks played by two processes on two cores took five times as long).
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
