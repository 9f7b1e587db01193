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


def test_what_has_grown_is_tidied_under_way_and_at_rest(monkeypatch: pytest.MonkeyPatch) -> None:
    over = threading.Event()
    # At the start, grown a little, enough, then after it was tidied (0); a little more, at rest,
    # then after it was tidied; at rest and tidy.
    holds = iter([100e6, 115e6, 117e6, 110e6, 112e6, 112e6, 111e6, 111e6])
    monkeypatch.setattr(memory, "LOOK", 0.01)
    seen: list[float] = []

    def own() -> float:
        seen.append(next(holds, 111e6))
        if len(seen) == 12:
            over.set()
        return seen[-1]

    monkeypatch.setattr(memory, "own_memory", own)
    monkeypatch.setattr(memory, "give_back", lambda: seen.append(0.0))
    memory.keep_tidy()
    assert over.wait(10)
    assert [round(each / 1e6) for each in seen[:12]] == [
        100, 115, 117, 0, 110, 112, 112, 0, 111, 111, 111, 111,
    ]  # fmt: skip
