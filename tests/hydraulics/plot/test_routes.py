"""Ways found against the exact optimum of the same graph by mixed-integer programme."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import coo_array, csr_array, eye_array, hstack, kron, vstack

from hydraulics.plot.asked import BoreField, HeaderRules, ParallelTrenches, Prices
from hydraulics.plot.network import Network, network
from hydraulics.plot.routes import Pair, routed
from hydraulics.plot.set_out import set_out
from hydraulics.plot.site import KeepOut, SitePlot, rectangle

RULES, PRICES = HeaderRules(), Prices()
L_SHAPE = ((0.0, 0.0), (60.0, 0.0), (60.0, 20.0), (30.0, 20.0), (30.0, 45.0), (0.0, 45.0))
WALL = KeepOut("wall", 1.0, ((18.0, 8.0), (22.0, 8.0), (22.0, 24.0), (18.0, 24.0)))


def exact(net: Network, pairs: list[Pair], prices: Prices) -> float:
    """Least price: y dug or not for every way and direction, x the way of every pair.

    All pairs lead to one chamber, the run from the plant room on: no way need be walked in both
    directions, for of two that meet so one may follow the other. That y has a direction makes
    the programme with parts of ways nearly as dear as that of whole ones: seconds become tenths.
    """
    ways, nodes, count = 2 * len(net.joined), len(net.points), len(pairs)
    a, b = net.joined.T
    out, into = np.concatenate([a, b]), np.concatenate([b, a])
    ends = np.concatenate([out, into]), np.tile(np.arange(ways), 2)
    kept = coo_array((np.repeat([1.0, -1.0], ways), ends), (nodes, ways))
    to = pairs[0].to
    least, most = np.zeros((count, nodes)), np.zeros((count, nodes))
    for k, pair in enumerate(pairs):
        # One pair leaves from one of its starts; what leaves at the others is none.
        most[k, list(pair.starts if pair.to == to else (pair.to,))] = 1.0
        least[k, to] = most[k, to] = -1.0
    led = hstack([csr_array((count * nodes, ways)), kron(eye_array(count), kept)])
    dug = hstack([kron(np.ones((count, 1)), -eye_array(ways)), eye_array(count * ways)])
    dig = prices.dig * net.lengths + prices.bend * (0.5 + net.askew)
    cost = np.concatenate([dig, dig, *(np.tile(p.price * net.lengths, 2) for p in pairs)])
    solved = milp(
        cost,
        constraints=LinearConstraint(
            vstack([led, dug], format="csr"),
            np.append(least, np.full(count * ways, -np.inf)),
            np.append(most, np.zeros(count * ways)),
        ),
        integrality=np.where(np.arange(len(cost)) < ways, 1, 0),
        # No tail leads on through another's borehole.
        bounds=Bounds(0.0, np.tile(np.where(net.closed[into], 0.0, 1.0), count + 1)),
        options={"mip_rel_gap": 1e-6},
    )
    assert solved.success, solved.message
    return float(solved.fun)


@pytest.mark.parametrize(
    ("plot", "lay"),
    [
        (rectangle(75.0, 40.0), ParallelTrenches(12, 30.0)),
        (SitePlot(L_SHAPE, (0.0, 20.0)), ParallelTrenches(8, 20.0)),
        (SitePlot(((0.0, 0.0), (60.0, 0.0), (0.0, 60.0)), (0.0, 0.0)), ParallelTrenches(8, 25.0)),
        (SitePlot(((0.0, 0.0), (40.0, 0.0), (40.0, 30.0), (0.0, 30.0)), (35.0, 2.0), (WALL,)),
         ParallelTrenches(4, 10.0)),
        (rectangle(30.0, 24.0), BoreField(6)),
        (rectangle(30.0, 24.0), BoreField(4)),
        (rectangle(40.0, 30.0), BoreField(9, pattern="square")),
        (SitePlot(L_SHAPE, (0.0, 20.0)), BoreField(7)),
    ],
    ids=["rectangle", "l_shape", "triangle", "round_a_wall", "bores", "few", "square", "l_bores"],
)  # fmt: skip
def test_ways_are_at_most_half_a_percent_dearer_than_the_optimum(
    plot: SitePlot, lay: ParallelTrenches | BoreField
) -> None:
    # The optimum by HiGHS (SciPy's milp); half a percent is what the search may lose: 0 to 0.4 %
    # here, 0 to 1.3 % on four fields of 10 and 12 boreholes. Nine boreholes have their chamber on
    # their axis of symmetry here; 3 m west of it, where the plan puts it, the search loses 2.5 %
    # (`routed` says so).
    plan = set_out(plot, lay)
    symmetric = isinstance(lay, BoreField) and lay.count == 9
    at = ((5.5, 15.0),) if symmetric else tuple(chamber.at for chamber in plan.chambers)
    angle = math.radians(plan.direction_deg)
    net = network(plot, RULES, plan.trenches, plan.bores, (), angle, at)
    to = net.chambers[0]
    pairs = [Pair(ends, to, PRICES.loop_pipe) for ends in net.ends]
    pairs.append(Pair((to,), net.plant, PRICES.run_pipe, dry=True))
    least = exact(net, pairs, PRICES)
    found = routed(net, pairs, PRICES)
    assert found.price >= least * (1.0 - 1e-6)
    assert found.price <= least * 1.005
