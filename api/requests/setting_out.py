"""From plot and setting-out options in a request to what the engine sets out, in metres."""

from __future__ import annotations

import math
from typing import Any

from api.refusals import BROKEN, Json, Place, Refusal
from api.requests.array import Pipes, Read, Refusals, pipe_of
from api.requests.groundworks import section, trench_section
from api.requests.places import attempt, broken
from api.requests.plot import has_place, point, points, site_from
from api.requests.sizing import choice_from
from hydraulics.plot.asked import ChamberRule, HeaderRules, Prices
from hydraulics.plot.plot import HEADER_DEPTH, HEADER_WIDTH
from hydraulics.plot.site_plan import Bore, Chamber, Mat, Trench
from hydraulics.sizing.on_plot import SettingOutPlan


def setting_out_from(
    read: Read, pipes: Pipes, max_loops: int, refusals: Refusals, *, sized: bool, dug: bool
) -> Json:
    """What is to be set out, or BROKEN.

    Parameters
    ----------
    read
        The job as read.
    pipes
        Its pipes by name.
    max_loops
        Most loops that this service takes.
    refusals
        Receives what is wrong.
    sized
        Whether the sizing is read too, and says what is wrong with its kind of array.
    dug
        Whether the digging is, and says what is wrong with its trench.
    """
    options, plot = read["setting_out"], read["plot"]
    # What stands on the plot is checked with the plot, wherever it is read.
    lacks = has_place(plot) and "boundary" in plot and "plant_room" not in plot
    told = refusals if lacks or not has_place(plot) else []
    site = site_from(plot, told, needs_plant=lacks)
    if options is BROKEN:
        return BROKEN
    asked = options.get("loop_count", 0)
    if asked is not BROKEN and asked > max_loops:
        detail = f"This service takes up to {max_loops:,} loops (its setting EVENLOOP_MAX_LOOPS)."
        refusals.append(
            Refusal(("setting_out", "loop_count"), detail, allowed=f"{max_loops:,} or fewer")
        )
        return BROKEN
    at: Place = ("setting_out",)
    pipe = pipe_of(options["run_pipe"], pipes, (*at, "run_pipe"), refusals)
    digging = read.get("groundworks", {})
    digging = {} if digging is BROKEN else digging
    at_dig: Place = ("groundworks", "trench")
    trench = section(digging, at_dig, trench_section, [] if dug else refusals)
    header = digging.get("header_trench", {})
    if broken([options, site, pipe, trench, header]):
        return BROKEN
    given = options.get("header", {})
    rules = attempt(
        lambda: HeaderRules(
            width=header.get("width_m", HEADER_WIDTH),
            depth=header.get("depth_m", HEADER_DEPTH),
            side_slope=header.get("side_slope", 0.0),
            **_without_unit(given),
        ),
        options,
        at,
        refusals,
    )
    prices = attempt(
        lambda: _prices(options["prices"]) if "prices" in options else Prices(),
        options,
        at,
        refusals,
    )
    choice = None
    kind = read.get("sizing")
    if "array" not in read and kind is not None and kind is not BROKEN:
        choice = choice_from(
            kind["array_kind"], read, pipes, [] if sized else refusals, placed=True
        )
    if broken([rules, prices, choice]):
        return BROKEN
    sizes: dict[str, Any] = {}
    if trench is not None:
        sizes = {
            "width": trench.width,
            "top_width": trench.top_width,
            "depth": trench.depth,
            "pipe_depth": trench.lies,
        }
    chambers: Any = tuple(
        Chamber(each["name"], point(each), each["max_loops"]) for each in plot.get("chambers", ())
    ) or ChamberRule(options["max_chamber_loops"], options["chamber_place"])

    def made() -> SettingOutPlan:
        return SettingOutPlan(
            site,
            pipe,
            trenches=tuple(
                Trench(each["loop"], points(each["points"]), tails_from=each["tails_from"], **sizes)
                for each in plot.get("trenches", ())
            ),
            bores=tuple(Bore(each["loop"], point(each)) for each in plot.get("boreholes", ())),
            mats=tuple(Mat(each["loop"], point(each)) for each in plot.get("mats", ())),
            chambers=chambers,
            choice=choice,
            count=options.get("loop_count"),
            length=options.get("length_m"),
            total_length=options.get("total_m"),
            longest_trench=options.get("max_length_m", math.inf),
            spacing=plot.get("spacing_m"),
            end_gap=options.get("end_gap_m"),
            pattern=options["pattern"],
            choose=options["choose"],
            rules=rules,
            prices=prices,
            max_trench=plot.get("max_trench_m"),
            **sizes,
        )

    return attempt(made, {"plot": plot, "setting_out": options}, (), refusals)


def _prices(read: Read) -> Prices:
    return Prices(read["dig"], read["tails"], read["runs"], read["bend"])


def _without_unit(read: Read) -> dict[str, float]:
    return {name.removesuffix("_m"): value for name, value in read.items()}
