"""From results of groundworks to their response, in trade units."""

from __future__ import annotations

from typing import Final

from api.answers.numbers import known, round_one
from api.answers.parts import ARRAY, Object, findings_of
from api.refusals import Place
from api.version import VERSION
from hydraulics.groundworks.bill import Bill
from hydraulics.groundworks.excavation import BULKING_SOURCE, Excavation
from hydraulics.groundworks.pipe_order import PipeOrder
from hydraulics.groundworks.plan import Block, Circle, Plan, Rectangle
from hydraulics.groundworks.works import Groundworks

VOLUMES_METHOD: Final = (
    "Section of each trench times its length, to the floor and to the top of the bedding; pipe by "
    "its outside diameter; backfill settles to the volume that it had in the ground."
)


def _volumes_of(dug: Excavation) -> Object:
    return {
        "length_m": round_one(dug.length),
        "dug_m3": round_one(dug.dug),
        "heaped_m3": round_one(dug.heaped),
        "bedding_m3": round_one(dug.bedding),
        "pipe_m3": round_one(dug.pipe),
        "backfill_m3": round_one(dug.backfill),
        "spoil_m3": round_one(dug.away),
        "spoil_loose_m3": round_one(dug.away_loose),
    }


def _land_of(block: Block, found: Groundworks) -> Object:
    return {
        "places": block.places,
        "across": block.across,
        "rows": block.rows,
        "spacing_m": round_one(block.pitch_across),
        "row_spacing_m": round_one(block.pitch_along),
        "border_m": round_one(block.border),
        "width_m": round_one(block.width),
        "length_m": round_one(block.length),
        "area_m2": round_one(block.area),
        **known({"plot_m2": found.available}),
        **({} if block.fits is None else {"fits": block.fits}),
    }


def order_of(order: PipeOrder) -> Object:
    """PipeOrderSchema's object."""
    return {
        "coils": [
            {
                "pipe": line.pipe.name,
                "coil_m": round_one(line.coil),
                "count": line.count,
                "for_loops": line.loops,
                "for_routes": line.routes,
            }
            for line in order.lines
        ],
        "loops": [
            {
                "loop": each.loop,
                "pipe": each.pipe.name,
                "needed_m": round_one(each.needed),
                **known({"coil_m": each.coil}),
                "leftover_m": round_one(each.leftover),
                "count": each.count,
            }
            for each in order.loop_coils
        ],
        "probes": [
            {"pipe": each.pipe.name, "depth_m": round_one(each.depth), "count": each.count}
            for each in order.probes
        ],
        "routes": [
            {"pipe": pipe.name, "length_m": round_one(length)}
            for pipe, length in order.route_lengths
        ],
        "leftover_m": round_one(order.leftover),
    }


def _shape(each: Rectangle | Circle, **sizes: float) -> Object:
    label = {"label": each.label} if each.label else {}
    return {"kind": each.kind, **label, **_at(each.x, each.y), **known(sizes)}


def _at(x: float, y: float) -> Object:
    return known({"x_m": x, "y_m": y})


def _plan_of(plan: Plan) -> Object:
    return {
        "width_m": round_one(plan.width),
        "height_m": round_one(plan.height),
        "rectangles": [
            _shape(each, width_m=each.width, height_m=each.height) for each in plan.rectangles
        ],
        "circles": [_shape(each, diameter_m=each.diameter) for each in plan.circles],
        "lines": [
            {"kind": each.kind, "points": [_at(x, y) for x, y in each.points]}
            for each in plan.lines
        ],
        "texts": [{**_at(each.x, each.y), "text": each.text} for each in plan.texts],
    }


def _bill_of(bill: Bill) -> Object:
    prices = bill.prices
    given: Object = {} if prices is None else {"currency": prices.currency}
    if prices is not None and prices.valid_until:
        given["valid_until"] = prices.valid_until
    return {
        "items": [
            {
                "item": each.item,
                "quantity": each.quantity if each.unit == "each" else round_one(each.quantity),
                "unit": each.unit,
                **({"detail": each.detail} if each.detail else {}),
                **({} if each.price is None else {"price": each.price}),
                **_money(amount=each.amount),
            }
            for each in bill.items
        ],
        **given,
        **_money(total=bill.total),
        "left_out": list(bill.left_out),
    }


def _money(**amounts: float | None) -> Object:
    """Amounts to the hundredth of the currency."""
    return {name: round(each, 2) for name, each in amounts.items() if each is not None}


def groundworks_of(
    found: Groundworks, order: PipeOrder, bill: Bill, *, root: Place = ARRAY
) -> Object:
    """GroundworksAnswerSchema's object of the engine's results, but for the job's name."""
    content: Object = {
        "trenches": [
            {
                "loop": each.loop,
                "length_m": round_one(each.length),
                "count": each.count,
                "coils": each.lies.coils,
                "pipe_count": each.lies.pipes,
            }
            for each in found.trenches
        ],
        "loop_trenches": _volumes_of(found.loops),
        "header_trench": _volumes_of(found.header),
        "total": _volumes_of(found.total),
    }
    if found.drilling is not None:
        drilling = found.drilling
        content["drilling"] = {
            "count": drilling.holes,
            "drilled_m": round_one(drilling.metres),
            "grout_m3": round_one(drilling.grout),
            "spoil_m3": round_one(drilling.spoil),
            "spoil_loose_m3": round_one(drilling.spoil_loose),
        }
    if found.mats is not None:
        content["pond_mats"] = {"count": found.mats.number, "area_m2": round_one(found.mats.area)}
    content |= {
        "bulking_percent": round_one(found.bulking * 1e2),
        "spoil_loads": found.lorries,
        "bedding_loads": found.bedding_loads,
        "digger_h": round_one(found.digger_hours),
    }
    if found.block is not None:
        content["land"] = _land_of(found.block, found)
    content["pipe_order"] = order_of(order)
    content["bill"] = _bill_of(bill)
    if found.plan is not None:
        content["plan"] = _plan_of(found.plan)
    return content | {
        "findings": findings_of((*found.findings, *order.findings, *bill.findings), root),
        "cautions": list(found.cautions),
        "method": {"volumes": VOLUMES_METHOD, "bulking": BULKING_SOURCE, "version": VERSION},
    }
