"""Evenloop over HTTP: reads requests, calls the engine in `hydraulics`, writes responses."""

import os
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from api.app import create_app

# Before anything loads NumPy, which reads it once. The engine's matrices are small: BLAS threads
# only fight over the cores (measured: 978 ms with them, 170 ms without, for domestic boreholes).
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

__all__ = ["create_app"]


def __getattr__(name: str) -> Any:  # noqa: ANN401
    # Loaded when first asked for: who only wants the version or help shall not wait for the engine.
    if name == "create_app":
        from api.app import create_app  # noqa: PLC0415

        return create_app
    raise AttributeError(f"module 'api' has no attribute {name!r}")
