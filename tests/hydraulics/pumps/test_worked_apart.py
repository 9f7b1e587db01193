"""Forty pumps on systems, worked out again by SciPy's root finding alone.

Independent of the engine: SciPy's PCHIP through the table, affinity laws (White, Fluid Mechanics,
chapter 11), a power law for the system, `scipy.optimize.root` for flow and speed together.
"""

from collections.abc import Callable

import numpy as np
import pytest
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq, root

from hydraulics.pumps.curve import Pump, PumpCurve
from hydraulics.pumps.running import Control, PumpedFluid, SystemCurve
from hydraulics.pumps.selection import Candidate, Condition, select

CONTROLS: tuple[Control, ...] = (
    "constant_speed",
    "constant_differential_pressure",
    "proportional_pressure",
    "constant_temperature_difference",
)
WATER = PumpedFluid(998.2, 1.004e-6)
CAPACITY = 998.2 * 4184.0
FULL = 2900.0


@pytest.mark.parametrize("case", range(40))
def test_flow_speed_power_and_weak_edge_as_worked_out_apart(case: int) -> None:
    rng = np.random.default_rng(case)
    control = CONTROLS[case % 4]
    end, shutoff = rng.uniform(5e-4, 5e-3), rng.uniform(3.0, 15.0)
    flow = np.linspace(0.0, end, 8)
    head = shutoff * (1.0 - 0.97 * (flow / end) ** rng.uniform(1.4, 2.2))
    power = 9789.0 * shutoff * end * (0.5 + 0.6 * flow / end)
    duty_flow, exponent = rng.uniform(0.35, 0.75) * end, rng.uniform(1.2, 2.0)
    head_of, power_of = PchipInterpolator(flow, head), PchipInterpolator(flow, power)
    duty_head = float(head_of(duty_flow)) * rng.uniform(0.5, 1.08)

    def system(q: float) -> float:
        return float(duty_head * (q / duty_flow) ** exponent)

    # ------------------------------------------------------------------ worked out apart
    factor = rng.uniform(0.6, 1.1)  # of the setting over that of the duty
    heat = CAPACITY * duty_flow * 4.0
    wanted: dict[str, Callable[[float], float]] = {
        "constant_differential_pressure": lambda q: factor * duty_head - system(q),
        "proportional_pressure": lambda q: (
            factor * duty_head * (1.0 + q / duty_flow) / 2.0 - system(q)
        ),
        "constant_temperature_difference": lambda q: (
            (heat / (CAPACITY * 4.0 / factor) - q) / duty_flow
        ),
    }

    def at_full(q: float) -> float:
        return float(head_of(q)) - system(q)

    expected_flow, ratio = float(brentq(at_full, 1e-9, end)), 1.0
    held = None
    if control != "constant_speed":

        def both(x: np.ndarray) -> list[float]:
            q, n = x[0] * duty_flow, x[1]
            return [wanted[control](q), n * n * float(head_of(q / n)) - system(q)]

        solved = root(both, [1.0, 0.95], tol=1e-12)
        beyond = solved.x[1] > 1.0 or solved.x[0] * duty_flow > expected_flow
        if not beyond:
            assert solved.success
            expected_flow, ratio = float(solved.x[0] * duty_flow), float(solved.x[1])
            held = expected_flow

    # ------------------------------------------------------------------------ the engine
    flows = np.geomspace(1e-2 * duty_flow, 3.0 * end, 200)
    curve = SystemCurve(flows, np.array([system(q) for q in flows.tolist()]))
    by_head = control in ("constant_differential_pressure", "proportional_pressure")
    candidate = Candidate(
        Pump("P", (PumpCurve(flow, head, power, FULL),)),
        control,
        set_head=factor * duty_head if by_head else None,
        set_change=4.0 / factor if control == CONTROLS[3] else None,
    )
    condition = Condition("cold", curve, WATER, 1000.0, CAPACITY)
    ((judged,), _) = select([candidate], duty_flow, duty_head, [condition], heat=heat)
    (result,) = judged.conditions
    assert result.point is not None
    # The system curve is a power law, which its interpolation reproduces: rounding alone is left.
    assert result.point.flow == pytest.approx(expected_flow, rel=1e-6)
    assert result.point.head == pytest.approx(system(expected_flow), rel=1e-6)
    assert result.point.speed == pytest.approx(ratio * FULL, rel=1e-6)
    by_affinity = ratio**3 * float(power_of(expected_flow / ratio))
    assert result.point.power == pytest.approx(by_affinity, rel=1e-5)
    assert judged.meets_duty == (expected_flow >= duty_flow * 0.999)

    # The weak edge of up_to_10_kw (ANSI/HI 14.6): 8 % less head or 10 % less flow, what is worse.
    def weak(q: float) -> float:
        beyond_table = float(head_of(min(q / 0.9, end)))
        return min(0.92 * float(head_of(q)), beyond_table) - system(q)

    found = result.flow_band[0]
    assert found is not None
    if held is not None and weak(held) >= 0.0:
        assert found == pytest.approx(held, rel=1e-6)
    else:
        assert found == pytest.approx(float(brentq(weak, 1e-9, 0.9 * end)), rel=1e-6)
