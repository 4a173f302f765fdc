"""Freed memory is kept for what comes next, where the C library can be told so."""

import platform
import subprocess
import sys

import pytest

ROUNDS = """
import resource, sys
import numpy as np
from terrain.base.memory import keep_freed_memory
if sys.argv[1] == "kept":
    keep_freed_memory()
def work():
    kept = [np.ones(1_000_000) for _ in range(8)]
work()
before = resource.getrusage(resource.RUSAGE_SELF).ru_minflt
for _ in range(5):
    work()
print(resource.getrusage(resource.RUSAGE_SELF).ru_minflt - before)
"""


@pytest.mark.skipif(
    platform.libc_ver()[0] != "glibc",
    reason="freed memory is kept by glibc's mallopt; with another C library nothing is done",
)
def test_memory_once_used_is_not_asked_for_anew() -> None:
    faults = {
        way: int(subprocess.run([sys.executable, "-c", ROUNDS, way], capture_output=True,
                                text=True, check=True).stdout)
        for way in ("kept", "given back")
    }  # fmt: skip
    assert faults["kept"] < 100 <= faults["given back"]
