"""POST /v1/balancing: what can be done for every loop to have its flow, and what does it cost?"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from flask import Blueprint, Response

from api.answers.balancing import balancing_of
from api.refusals import BROKEN, Refusal, RefusedError, refusals_of
from api.requests.job import job_from
from api.schemas.balancing import BalancingRequestSchema
from api.schemas.fields import Refusals
from api.schemas.objects import schema_of
from api.service.replies import read_body, reply, settings
from hydraulics.balancing.heat_cost import ImbalanceHeat, imbalance_heat
from hydraulics.balancing.valves import ValveTable
from hydraulics.balancing.ways import balance
from hydraulics.errors import InputError
from hydraulics.split.result import FlowSplit
from hydraulics.split.target_flows import Target

blueprint: Final = Blueprint("balancing", __name__)

_GROUND_FIELDS: Final = {
    "ground_temperature_c": "ground.ground_temperature_c",
    "ground_resistance_m_k_w": "ground.ground_resistance_m_k_w",
    "pipe_conductivity_w_m_k": "ground.pipe_conductivity_w_m_k",
    "to_ground_temperature_c": "duty.to_ground_temperature_c",
    # Outside the film correlations it is the flow, the fluid or a bore that is out of all bounds.
    "reynolds": "duty",
    "prandtl": "antifreeze",
    "curvature": "array",
}


@blueprint.post("/v1/balancing")
def post_balancing() -> Response:
    """Compare the ways to balance an array."""
    return reply(balancing_answer(*read_body(schema_of(BalancingRequestSchema))))


def balancing_answer(read: dict[str, Any], refusals: Refusals) -> dict[str, Any]:
    """Compare the ways to balance an array.

    Parameters
    ----------
    read
        A request as read by BalancingRequestSchema.
    refusals
        What is refused in it so far.

    Returns
    -------
    dict
        Object of BalancingResponseSchema.

    Raises
    ------
    RefusedError
        Something in it cannot be.
    """
    target = _target_from(read, refusals)
    table = _table_from(read.get("valve"), refusals)
    job = job_from(read, settings().max_loops, refusals)
    if job is None or target is None:
        raise RefusedError(refusals)
    result = balance(
        *job,
        target=target,
        tolerance=read["tolerance_percent"] / 100.0,
        valve_table=table,
        coil_diameter=read["spare_coil_diameter_m"],
        length_step=read["spare_length_step_m"],
        closing_length=read.get("closing_m"),
        pump_efficiency=read["pump_efficiency_percent"] / 100.0,
        run_hours=read["run_hours"],
        margin=read["freezing_margin_k"],
    )
    cost = None
    if "ground" in read:
        cost = _heat_cost(result.split, read, target)
    kind = read["antifreeze"]["kind"]
    return balancing_of(result, cost, read.get("name"), kind, read["target"])


def _target_from(read: Mapping[str, Any], refusals: Refusals) -> Target | None:
    """Target as the engine takes it; None where it was refused."""
    target = read["target"]
    shares = read.get("target_shares")
    if target is BROKEN or shares is BROKEN:
        return None
    if target == "shares":
        if shares is None:
            detail = "target is shares, so target_shares must give a share for each loop."
            refusals.append(Refusal(("target_shares",), detail, allowed="a share for each loop"))
            return None
        return None if BROKEN in shares else tuple(shares)
    if shares is not None:
        detail = f"target_shares goes with target shares, and target is {target}."
        refusals.append(Refusal(("target_shares",), detail, allowed="only with target shares"))
        return None
    return "even" if target == "even" else "length"


def _table_from(read: Any, refusals: Refusals) -> ValveTable | None:  # noqa: ANN401 (JSON)
    """Table of the valve; None where there is none or it was refused."""
    if read is None or read is BROKEN or BROKEN in read.values():
        return None
    rows = read["positions"]
    if any(row is BROKEN or BROKEN in row.values() for row in rows):
        return None
    try:
        return ValveTable(
            tuple(row["position"] for row in rows), tuple(row["kv_m3_h"] for row in rows)
        )
    except InputError as error:
        refusals += refusals_of(error)
        return None


def _heat_cost(split: FlowSplit, read: Mapping[str, Any], target: Target) -> ImbalanceHeat:
    ground = read["ground"]
    try:
        return imbalance_heat(
            split,
            entering_temperature=read["duty"]["to_ground_temperature_c"],
            ground_temperature=ground["ground_temperature_c"],
            ground_resistance=ground["ground_resistance_m_k_w"],
            target=target,
            pipe_conductivity=ground["pipe_conductivity_w_m_k"],
        )
    except InputError as error:
        raise RefusedError(refusals_of(error, (), _GROUND_FIELDS)) from None
