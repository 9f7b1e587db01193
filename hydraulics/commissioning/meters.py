"""What should each loop's flow meter show, so that a fitter can prove the balance on site?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from hydraulics.checks import number_fault, refuse
from hydraulics.errors import Fault, InputError
from hydraulics.findings import COMMON_PRACTICE, Finding

LITRES_PER_MINUTE = 60e3  # L/min in one m3/s
_ROUNDING = 1e-9  # of a limit, which is no error of a meter

CAUTION = (
    "Read the meters with the array at the temperature of these flows, pump at its commissioned"
    " setting and air purged: colder brine is more viscous and splits otherwise. A float-type meter"
    " calibrated for water misreads a mixture; use its maker's correction."
)


@dataclass(frozen=True, slots=True)
class MeterReading:
    """Expected reading of one loop's flow meter.

    Attributes
    ----------
    loop
        Name of the loop.
    expected, lowest, highest
        Expected reading and the band that proves the balance [m³/s].
    """

    loop: str
    expected: float
    lowest: float
    highest: float

    @property
    def expected_l_min(self) -> float:
        """Expected reading in the unit that manifolds' meters are marked in [L/min]."""
        return self.expected * LITRES_PER_MINUTE


def expected_readings(
    loops: Sequence[str],
    flows: Sequence[float],
    *,
    tolerance: float = 0.10,
    meter_accuracy: float = 0.05,
) -> tuple[MeterReading, ...]:
    """Expected flow-meter readings with an acceptance band.

    Parameters
    ----------
    loops
        Names.
    flows
        Volume flow of each loop [m³/s], more than 0.
    tolerance
        Deviation from the expected flow that is accepted, as a fraction, 0 to less than 1 (0.10 is
        common practice, no source).
    meter_accuracy
        Error of the meter, as a fraction of the reading, 0 to less than 1 (0.05: manifold float
        meters show 5 to 10 %; common practice, no source). It narrows the band, so that a reading
        inside it proves the flow within the tolerance; where it is not finer than the tolerance
        no reading could, and it is refused.

    Returns
    -------
    tuple of MeterReading
        In the order of the loops.

    Raises
    ------
    InputError
        Lists of unequal length, flows not above 0, or a meter too coarse for the tolerance.
    """
    if len(loops) != len(flows):
        raise InputError(
            Fault("flows", "give one flow for every loop", len(flows), f"{len(loops)} flows")
        )
    refuse(
        *(number_fault(f"flows.{n}", q * 1e3, "L/s", above=0.0) for n, q in enumerate(flows)),
        number_fault("tolerance", 100.0 * tolerance, "%", above=0.0),
        number_fault("meter_accuracy", 100.0 * meter_accuracy, "%", at_least=0.0),
    )
    # Otherwise the expected reading itself would lie outside its band.
    if not meter_accuracy < tolerance < 1.0:
        raise InputError(
            Fault(
                "meter_accuracy",
                "the meter must be finer than the tolerance (and that below 100 %), or no reading"
                " proves the balance",
                100.0 * meter_accuracy,
                f"less than {100.0 * tolerance:.3g} %",
            )
        )
    # The error is of the reading, so the true flow lies between (1-a) and (1+a) times the reading.
    low = (1.0 - tolerance) / (1.0 - meter_accuracy)
    high = (1.0 + tolerance) / (1.0 + meter_accuracy)
    return tuple(
        MeterReading(name, flow, low * flow, high * flow)
        for name, flow in zip(loops, flows, strict=True)
    )


def judge_reading(expected: MeterReading, reading: float) -> Literal["low", "within", "high"]:
    """Say whether a reading [m³/s] is below, within or above its band."""
    refuse(number_fault("reading", reading * LITRES_PER_MINUTE, "L/min", at_least=0.0))
    if reading < expected.lowest * (1.0 - _ROUNDING):
        return "low"
    return "high" if reading > expected.highest * (1.0 + _ROUNDING) else "within"


def uneven_finding(tolerance: float) -> Finding:
    """Tell of meters that prove flows which are themselves beyond a tolerance [-] of their targets.

    A meter is read against the flow that was computed for its loop, not against its target.
    """
    return Finding(
        "meters_of_uneven_split", "warning",
        "The flows that the meters are told are themselves uneven: some loop's is further than"
        f" {100.0 * tolerance:g} % from its target, as the flow split tells. Meters that are within"
        " prove that the loops flow as computed, and no balance: balance the array first, then read"
        " them.",
        COMMON_PRACTICE,
    )  # fmt: skip
