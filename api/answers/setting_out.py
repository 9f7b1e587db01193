"""From a site plan to its response: where everything lies, and the parts of a job it decides."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from api.answers.decides import decided_array, decided_plot
from api.answers.numbers import known, round_one
from api.answers.parts import DECIDED, Object, findings_of, position
from api.version import VERSION
from hydraulics.findings import BORE_FOOT_CAUTION, GENERAL_CAUTIONS, OPEN_WATER_CAUTIONS
from hydraulics.groundworks.site_works import DugStretch
from hydraulics.job import Chapters
from hydraulics.plot.profile import heights_of
from hydraulics.plot.site import Point
from hydraulics.sizing.on_plot import SetOut

SEARCH: Final = (
    "Equal trenches on straight header trenches or along the boundary, in the directions of every "
    "side of plot and keep-outs and of a fan; boreholes on square and triangular grids or spread; "
    "tails and runs by shared ways around keep-outs; the cheapest by the prices of digging and "
    "pipe. More than was found may fit."
)


def _line(points: Iterable[Point]) -> list[Object]:
    return [position(point) for point in points]


def _digging(dug: DugStretch | None) -> Object:
    """Floor and volumes of a stretch; none in water, which nobody digs."""
    if dug is None:
        return {"floor_width_m": 0.0}
    return {
        "floor_width_m": round_one(dug.floor),
        "dug_m3": round_one(dug.volumes.dug),
        "bedding_m3": round_one(dug.volumes.bedding),
        "spoil_m3": round_one(dug.volumes.away),
    }


def decided_by(found: SetOut, plot: Object) -> Object:
    """Parts of a job that a plan decides; none where not all has a place and a way."""
    if found.circuit is None:
        return {}
    return {"array": decided_array(found.circuit), "plot": decided_plot(found.plan, plot)}


def setting_out_of(chapters: Chapters, plot: Object) -> Object:
    """SettingOutAnswerSchema's object of a plan, but for the job's name.

    Parameters
    ----------
    chapters
        The plan, its array, and what is dug for it.
    plot
        The job's plot as posted.
    """
    found, works, asked = chapters.laid_out, chapters.site_works, chapters.job.setting_out
    assert asked is not None
    plan = found.plan
    dug = {} if works is None else {each.stretch: each for each in works.stretches}
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
        "mats": [
            {"loop": each.loop, **position(each.at), "diameter_m": round_one(each.diameter)}
            for each in plan.mats
        ],
        "chambers": [
            {
                "name": each.name,
                **position(each.at),
                "loop_count": len(plan.held_by(each.name)),
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
                **_digging(dug.get(each)),
            }
            for each in plan.stretches
        ],
        "crossings": [
            {"keep_out": each.keep_out, **position(each.at), "pipe_count": 2 * each.pairs}
            for each in (works.crossings if works is not None else ())
        ],
        "heaps": [
            {
                "loop": each.loop,
                "width_m": round_one(each.width),
                "is_clear": each.clear,
                "over": list(each.covers),
            }
            for each in (works.heaps if works is not None else ())
        ],
        "spare_pits": [
            {"loop": each.loop, "side_m": round_one(each.side), "points": _line(each.corners)}
            for each in plan.pits
        ],
        "dig_order": list(works.order) if works is not None else [],
        "levels": [
            {
                "loop": each.loop,
                "start_m": round_one(each.start),
                "end_m": round_one(each.end),
                "min_m": round_one(each.lowest),
                "max_m": round_one(each.highest),
                "fall_percent": round_one(100.0 * each.fall),
                **({} if each.air_at is None else {"air_at": position(each.air_at)}),
            }
            for each in heights_of(plan, asked.rules)
        ],
        "placed_by": [
            {
                "chamber_place": each.place,
                "header_dug_m": round_one(each.header_dug),
                "tails_m": round_one(each.tails),
                "runs_m": round_one(each.runs),
                "min_tail_m": round_one(each.shortest),
                "max_tail_m": round_one(each.longest),
            }
            for each in plan.placed_by
        ],
        "direction_deg": round_one(plan.direction_deg),
    }
    told = (*found.findings, *(works.findings if works is not None else ()))
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
        "findings": findings_of(told, DECIDED),
        "cautions": [
            *GENERAL_CAUTIONS,
            *((BORE_FOOT_CAUTION,) if plan.bores else ()),
            *(OPEN_WATER_CAUTIONS if plan.mats else ()),
        ],
        "method": {"search": SEARCH, "version": VERSION},
    }
