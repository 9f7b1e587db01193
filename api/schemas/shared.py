"""What jobs that share objects have in common is read once: for the cases of a study.

Objects are told apart by which they are, not by what they hold; whoever shares them changes none,
nor what was read of them.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterator, Sized
from contextlib import contextmanager
from contextvars import ContextVar
from typing import Any, Final

_Kept = dict[Hashable, tuple[object, Any]]

_KEPT: Final[ContextVar[_Kept | None]] = ContextVar("kept", default=None)


@contextmanager
def shared_reading() -> Iterator[None]:
    """Within it, an object that was read without a fault is not read again."""
    token = _KEPT.set({})
    try:
        yield
    finally:
        _KEPT.reset(token)


kept_readings: Final = _KEPT.get
"""What was read of objects, and the objects; None where reading is not shared. Asked of every
object that is read: a function around it would cost as much as the rest."""


def once(
    kept: _Kept, reader: Hashable, of: tuple[object, ...], refusals: Sized, make: Callable[[], Any]
) -> Any:  # noqa: ANN401 (whatever is made)
    """What a reader makes of some objects, made once where nothing is refused.

    Parameters
    ----------
    kept
        From :func:`kept_readings`.
    reader
        Who reads.
    of
        What it reads: nothing else may decide what is made.
    refusals
        What was refused so far.
    make
        Reads.
    """
    key, faults = (reader, *map(id, of)), len(refusals)
    if key in kept:
        return kept[key][1]
    made = make()
    if len(refusals) == faults:
        kept[key] = of, made  # the objects too, lest others take their identity
    return made
