"""What an elbow, a tee or a valve takes: loss by coefficient, by Kv or by kind.

A fitting's pressure drop is Δp = ρ a Q|Q| + μ b Q. The square term is the usual loss coefficient;
the linear term is what the three-constant method adds at low Reynolds numbers, where brine runs.
"""

from __future__ import annotations

import difflib
import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

from fluids.fittings import Darby

from hydraulics.checks import number_fault, refuse
from hydraulics.errors import Fault, InputError

DARBY_SOURCE: Final = (
    "Three-constant method, K = K1/Re + Ki (1 + Kd / DN^0.3), DN in inches: Silverberg & Darby, "
    "Chemical Engineering 106 no. 7 (1999) 101, constants as in the fluids library"
)
_KV_PRESSURE: Final = 1e5  # Pa; a valve's Kv is the flow [m3/h] of water at 1 bar (EN 60534)
_KV_DENSITY: Final = 1000.0  # kg/m3

# Our name for the fitting -> its row in the library's table.
_KINDS: Final[dict[str, str]] = {
    "elbow_90": "Elbow, 90°, flanged, welded, bends, (r/D = 1)",
    "elbow_90_threaded": "Elbow, 90°, threaded, standard, (r/D = 1)",
    "bend_90": "Elbow, 90°, (r/D = 2)",
    "bend_90_long": "Elbow, 90°, (r/D = 4)",
    "elbow_45": "Elbow, 45°, long radius, (r/D = 1.5)",
    "return_bend": "Elbow, 180°, flanged, (r/D = 1)",
    "tee_run": "Tee, Run-through, flanged, (r/D = 1)",
    "tee_branch": "Tee, Through-branch, (as elbow), flanged, (r/D = 1)",
    "ball_valve": "Valve, Ball valve, standard, β = 1",
    "gate_valve": "Valve, Gate valve, standard, β = 1",
    "globe_valve": "Valve, Globe valve, standard, β = 1",
    "angle_valve": "Valve, Angle valve, 90°, full line size, β = 1",
    "diaphragm_valve": "Valve, Diaphragm, dam type",
    "swing_check_valve": "Valve, Swing check",
}
FITTING_KINDS: Final = tuple(_KINDS)


@dataclass(frozen=True, slots=True)
class Fitting:
    """Equal fittings in series, by one of kind, loss coefficient or Kv.

    Attributes
    ----------
    kind
        One of :data:`FITTING_KINDS`.
    coefficient
        K in Δp = K ρ v²/2 [-], v in the bore of the pipe that it sits in.
    kv
        Kv [m³/h] (EN 60534).
    count
        How many, in series.
    valve, position
        Of a valve that was set: what it is called, and what its handwheel shows.
    """

    kind: str | None = None
    coefficient: float | None = None
    kv: float | None = None
    count: int = 1
    valve: str = ""
    position: float | None = None

    def loss(self, bore: float | None) -> Loss:
        """Loss in a pipe of that bore [m]; None where there is no pipe, which only a Kv allows.

        Raises
        ------
        InputError
            The kind is not known, the number is out of bounds, or a pipe is needed.
        """
        return _loss_of(self, None if self.kv is not None else bore)


@dataclass(frozen=True, slots=True)
class Loss:
    """Pressure drop of fittings as Δp = ρ · square · Q|Q| + μ · linear · Q.

    Attributes
    ----------
    square
        [1/m⁴]
    linear
        [1/m³]
    fittings
        What it is the loss of, where that is known.
    """

    square: float = 0.0
    linear: float = 0.0
    fittings: tuple[Fitting, ...] = ()

    def __add__(self, other: Loss) -> Loss:
        if self is NO_LOSS:
            return other
        return Loss(
            self.square + other.square,
            self.linear + other.linear,
            self.fittings + other.fittings,
        )

    def in_each(self, parallel: int) -> Loss:
        """Loss of such fittings in each of equal parallel pipes, by the flow of all together."""
        return Loss(self.square / parallel**2, self.linear / parallel)

    def at(self, bore: float | None) -> Loss:
        """Loss of the same fittings in pipe of another bore [m]."""
        return loss_of(self.fittings, bore) if self.fittings else self


NO_LOSS: Final = Loss()


def loss_of(fittings: tuple[Fitting, ...], bore: float | None) -> Loss:
    """Loss of fittings in series in a pipe of one bore [m]; see :meth:`Fitting.loss`."""
    total = NO_LOSS
    for each in fittings:
        total += each.loss(bore)
    return total


@lru_cache(maxsize=4096)
def _loss_of(fitting: Fitting, bore: float | None) -> Loss:
    if fitting.kv is not None:
        one = loss_from_kv(fitting.kv)
    elif bore is None:
        raise InputError(
            Fault(
                "coefficient" if fitting.kind is None else "kind",
                "there is no pipe here whose bore this fitting's velocity could be taken in; give "
                "its Kv, or give a run whose pipe it sits in",
                None,
                "a Kv",
            )
        )
    elif fitting.kind is not None:
        one = loss_of_kind(fitting.kind, bore)
    else:
        one = loss_from_coefficient(fitting.coefficient or 0.0, bore)
    return Loss(one.square * fitting.count, one.linear * fitting.count, (fitting,))


def loss_from_coefficient(coefficient: float, bore: float) -> Loss:
    """Loss by K = 2 Δp / (ρ v²), v the velocity in the pipe's bore.

    Parameters
    ----------
    coefficient
        Loss coefficient K [-], 0 or more.
    bore
        Bore that the velocity is taken in [m].
    """
    refuse(number_fault("coefficient", coefficient, "", at_least=0.0))
    return Loss(square=8.0 * coefficient / (math.pi**2 * bore**4))


def loss_from_kv(kv: float) -> Loss:
    """Loss by Kv, the flow of water in m³/h at a drop of 1 bar (EN 60534-1).

    Parameters
    ----------
    kv
        Kv [m³/h], more than 0.
    """
    refuse(number_fault("kv", kv, "m³/h", above=0.0))
    return Loss(square=_KV_PRESSURE / _KV_DENSITY * (3600.0 / kv) ** 2)


def kv_from_loss(loss: Loss) -> float:
    """Kv [m³/h] of a loss with a square term only (infinite where there is no loss)."""
    if loss.square <= 0.0:
        return math.inf
    return 3600.0 * math.sqrt(_KV_PRESSURE / _KV_DENSITY / loss.square)


def loss_of_kind(kind: str, bore: float) -> Loss:
    """Loss of a fitting by its kind and the bore it sits in (three-constant method).

    Parameters
    ----------
    kind
        One of :data:`FITTING_KINDS`.
    bore
        Bore [m].

    Returns
    -------
    Loss
        Square and linear terms.

    Raises
    ------
    InputError
        The kind is not known; the message suggests the nearest.

    Notes
    -----
    Source: see :data:`DARBY_SOURCE`. The constants come from steel fittings; published tables of
    fittings differ by 25 % and more from one another.
    """
    low_reynolds, turbulent, size = darby_constants(kind)
    coefficient = turbulent * (1.0 + size * (bore / 0.0254) ** -0.3)
    square = loss_from_coefficient(coefficient, bore).square
    return Loss(square=square, linear=low_reynolds * 2.0 / (math.pi * bore**3))


def darby_constants(kind: str) -> tuple[float, float, float]:
    """K1, Ki and Kd of a kind of fitting; raises InputError where the kind is not known."""
    row = _KINDS.get(kind)
    if row is None:
        near = difflib.get_close_matches(kind, FITTING_KINDS, n=1, cutoff=0.5)
        hint = f"; did you mean '{near[0]}'?" if near else ""
        raise InputError(
            Fault(
                "kind",
                f"no fitting is called '{kind[:60]}'{hint}",
                kind[:60],
                ", ".join(FITTING_KINDS),
            )
        )
    k1, ki, kd = Darby[row]
    return float(k1), float(ki), float(kd)
