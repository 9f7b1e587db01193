"""A process keeps one pool of memory and gives back what it no longer needs."""

import subprocess
import sys
import threading

import pytest

from api.service import memory

THREADS_HOLD = """
import threading
from api.service.memory import keep_one_pool
{one}
held, there = [], threading.Barrier(9)
def hold():
    held.append([bytearray(n + 600) for n in range(50)])
    there.wait(10)
threads = [threading.Thread(target=hold) for _ in range(8)]
for each in threads: each.start()
there.wait(10)
lines = open('/proc/self/maps').read().splitlines()
# glibc: a pool besides the first begins at a multiple of 64 MiB (HEAP_MAX_SIZE, malloc/arena.c).
print(sum(int(line.split('-')[0], 16) % 2**26 == 0 and ' rw-p ' in line for line in lines))
"""


def pools(one: str) -> int:
    code = THREADS_HOLD.format(one=one)
    done = subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True)
    return int(done.stdout)


def test_threads_share_one_pool_of_memory() -> None:
    if not pools(""):
        pytest.skip("this C library has no pool for each thread")
    assert pools("keep_one_pool()") == 0


def test_what_grows_much_is_tidied_and_what_does_not_is_left(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    tidied = threading.Event()
    holds = iter([100e6, 150e6, 190e6])  # at the start, half of the limit more, nine tenths more
    monkeypatch.setattr(memory, "LOOK", 0.01)
    seen: list[float] = []

    def own() -> float:
        seen.append(next(holds, 100e6))
        return seen[-1]

    def give_back() -> None:
        seen.append(-1.0)
        tidied.set()

    monkeypatch.setattr(memory, "own_memory", own)
    monkeypatch.setattr(memory, "give_back", give_back)
    memory.keep_tidy(100e6)
    assert tidied.wait(10)
    assert seen[:4] == [100e6, 150e6, 190e6, -1.0]
