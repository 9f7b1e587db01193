"""What of SciPy does the engine load only where it first needs it?

Loading takes a quarter of a second of CPU, which a split of loops need not wait for. Where a time
limit could fall into it, everything is loaded first.
"""

from __future__ import annotations

import scipy as sp


def load_libraries() -> None:
    """Load every part of SciPy that a calculation may need; each loads when it is first named."""
    _ = (sp.fft, sp.interpolate, sp.optimize, sp.sparse.csgraph, sp.spatial.distance, sp.special)
