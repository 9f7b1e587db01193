"""From a site plan to its response: where everything lies, and the parts of a job it decides."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from api.answers.decides import decided_array, decided_plot
from api.answers.numbers import known, round_one
from api.answers.parts import DECIDED, Object, findings_of, position
from api.version import VERSION
from hydraulics.findings import BORE_FOOT_CAUTION, GENERAL_CAUTIONS
from hydraulics.plot.site import Point
from hydraulics.plot.site_plan import floor_width
from hydraulics.sizing.on_plot import SetOut

SEARCH: Final = (
    "Equal trenches on straight header trenches or along the boundary, in the directions of every "
    "side of plot and keep-outs and of a fan; boreholes on square and triangular grids or spread; "
    "tails and runs by shared ways around keep-outs; the cheapest by the prices of digging and "
    "pipe. More than was found may fit."
)


def _line(points: Iterable[Point]) -> list[Object]:
    return [position(point) for point in points]


def decided_by(found: SetOut, plot: Object) -> Object:
    """Parts of a job that a plan decides; none where not all has a place and a way."""
    if found.circuit is None:
        return {}
    return {"array": decided_array(found.circuit), "plot": decided_plot(found.plan, plot)}


def setting_out_of(found: SetOut, plot: Object) -> Object:
    """SettingOutAnswerSchema's object of a plan, but for the job's name.

    Parameters
    ----------
    found
        The plan and its array.
    plot
        The job's plot as posted.
    """
    plan = found.plan
    tails, runs = plan.tails, plan.runs
    capacity = plan.capacity
    content: Object = {
        "decides": decided_by(found, plot),
        "trenches": [
            {
                "loop": each.loop,
                "points": _line(each.line),
                "length_m": round_one(each.length),
                "width_m": round_one(each.width),
                "top_width_m": round_one(2.0 * each.half_top),
            }
            for each in plan.trenches
        ],
        "boreholes": [
            {"loop": each.loop, **position(each.at), "depth_m": round_one(each.depth)}
            for each in plan.bores
        ],
        "chambers": [
            {
                "name": each.name,
                **position(each.at),
                "loop_count": sum(name == each.name for name in plan.loop_chamber.values()),
                "max_loops": each.largest,
                **known({"run_m": runs.get(each.name)}),
            }
            for each in plan.chambers
        ],
        "tails": [
            {
                "loop": each.loop,
                "chamber": each.chamber,
                "length_m": round_one(each.length),
                "points": _line(each.line),
            }
            for each in plan.routes
            if each.loop is not None
        ],
        "runs": [
            {
                "chamber": each.chamber,
                "length_m": round_one(each.length),
                "points": _line(each.line),
            }
            for each in plan.routes
            if each.loop is None
        ],
        "stretches": [
            {
                "points": _line(each.line),
                "length_m": round_one(each.length),
                "medium": each.medium,
                "loops": list(each.loops),
                "runs": list(each.runs),
                "pipe_count": each.pipes,
                "floor_width_m": round_one(floor_width(each.pairs, found.pipe_diameter)),
            }
            for each in plan.stretches
        ],
        "direction_deg": round_one(plan.direction_deg),
    }
    if capacity is not None:
        content["capacity"] = {
            "most": capacity.most,
            "family": capacity.family,
            **known({"longest_m": capacity.longest}),
            **({} if capacity.fewest is None else {"fewest": capacity.fewest}),
            **known({"centres_m": capacity.centres}),
        }
    return content | {
        "totals": {
            "trench_m": round_one(plan.trench_dug),
            "drilled_m": round_one(sum(each.depth for each in plan.bores)),
            "header_dug_m": round_one(plan.header_dug),
            "in_water_m": round_one(plan.in_water),
            "tails_m": round_one(sum(tails.values())),
            "min_tail_m": round_one(min(tails.values(), default=0.0)),
            "max_tail_m": round_one(max(tails.values(), default=0.0)),
            "runs_m": round_one(sum(runs.values())),
            "plot_m2": round_one(plan.plot.ground.area),
        },
        "findings": findings_of(found.findings, DECIDED),
        "cautions": [*GENERAL_CAUTIONS, *((BORE_FOOT_CAUTION,) if plan.bores else ())],
        "method": {"search": SEARCH, "version": VERSION},
    }
