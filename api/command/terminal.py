"""A split as a terminal shows it: a table of loops with their deviation as bars."""

from __future__ import annotations

from typing import Any, Final

from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

Json = dict[str, Any]

_HALF_BAR: Final = 12  # characters either side of the middle
_LOOPS_SHOWN: Final = 60
_STYLES: Final = {"error": "bold red", "warning": "yellow", "info": "cyan"}


def show_split(console: Console, result: Json) -> None:
    """Print the result of the main job.

    Parameters
    ----------
    console
        Where to print.
    result
        Answer of ``POST /v1/split``.
    """
    console.print()
    console.print(Text(result.get("name") or "Split", style="bold"))
    fluid, pump = result["fluid"], result["pump"]
    console.print(
        f"Brine {fluid['to_ground']['temperature_c']:.1f} °C out, "
        f"{fluid['from_ground']['temperature_c']:.1f} °C back; "
        f"{fluid['in_loops']['viscosity_mpa_s']:.2f} mPa s in the loops, "
        f"freezes at {fluid['in_loops']['freezing_point_c']:.1f} °C"
    )
    console.print(
        Text.assemble(
            "Circulating pump ",
            (f"{pump['flow_l_s']:.3f} L/s at {pump['head_kpa']:.1f} kPa", "bold"),
            f" ({pump['head_m']:.2f} m of the mixture, {pump['hydraulic_power_w']:.0f} W "
            f"hydraulic), {pump['heat_kw']:.2f} kW from the ground",
        )
    )
    parts = pump["drops"]
    console.print(
        f"  of which array {parts['array_drop_kpa']:.1f}, runs {parts['runs_drop_kpa']:.1f}, "
        f"heat exchanger {parts['heat_exchanger_drop_kpa']:.1f} kPa"
    )
    console.print()
    console.print(_table(result))
    hidden = len(result["loops"]) - _LOOPS_SHOWN
    if hidden > 0:
        console.print(f"… and {hidden} more loops (--json shows all)")
    if closed := [each["loop"] for each in result["closed_loops"]]:
        more = f" and {len(closed) - _LOOPS_SHOWN} more" if len(closed) > _LOOPS_SHOWN else ""
        console.print(f"Closed: {', '.join(closed[:_LOOPS_SHOWN])}{more}")
    _show_imbalance(console, result)
    _show_remarks(console, result)


def _table(result: Json) -> Table:
    loops = result["loops"]
    tolerance = (result.get("imbalance") or {}).get("max_deviation_percent", 10.0)
    widest = max([abs(loop["deviation_percent"]) for loop in loops] + [1.5 * tolerance])
    table = Table(box=None, pad_edge=False, header_style="bold")
    table.add_column("loop", no_wrap=True)
    for title in ("pipe m", "L/s", "off"):
        table.add_column(title, justify="right", no_wrap=True)
    table.add_column(f"below │ above   (¦ ±{tolerance:g} %)", no_wrap=True)
    for title in ("m/s", "Re"):
        table.add_column(title, justify="right", no_wrap=True)
    table.add_column("regime", no_wrap=True)
    for title in ("loop kPa", "headers kPa"):
        table.add_column(title, justify="right", no_wrap=True)
    for loop in loops[:_LOOPS_SHOWN]:
        deviation = loop["deviation_percent"]
        outside = abs(deviation) > tolerance
        style = "bold yellow" if outside else ""
        table.add_row(
            Text(loop["loop"], style=style),
            f"{loop['length_m']:.0f}",
            f"{loop['flow_l_s']:.3f}",
            Text(f"{deviation:+.1f} %", style=style),
            Text(deviation_bar(deviation, tolerance, widest), style=style),
            f"{loop['velocity_m_s']:.2f}",
            f"{loop['reynolds']:.0f}",
            loop["regime"],
            f"{loop['drop_kpa']:.2f}",
            f"{loop['drops']['headers_drop_kpa']:.2f}",
        )
    return table


def deviation_bar(deviation: float, tolerance: float, widest: float) -> str:
    """Draw a deviation as a bar to the left (too little) or right (too much) of a middle line.

    Parameters
    ----------
    deviation
        From its target flow [%].
    tolerance
        Marked by a broken line on both sides [%].
    widest
        Deviation at the bar's full length [%].

    Returns
    -------
    str
        Text of fixed width.
    """
    full = round(abs(deviation) / widest * _HALF_BAR)
    mark = min(max(round(tolerance / widest * _HALF_BAR), 1), _HALF_BAR)

    def side(length: int) -> list[str]:
        cells = ["█"] * length + [" "] * (_HALF_BAR - length)
        if length < mark:
            cells[mark - 1] = "¦"
        return cells

    left = side(full if deviation < 0 else 0)[::-1]
    right = side(full if deviation > 0 else 0)
    return "".join(left) + "│" + "".join(right)


def _show_imbalance(console: Console, result: Json) -> None:
    imbalance = result.get("imbalance")
    if imbalance is None:
        return
    console.print()
    verdict = "Within" if imbalance["within_tolerance"] else "Outside"
    style = "green" if imbalance["within_tolerance"] else "bold yellow"
    if any(each["severity"] == "error" for each in result["findings"]):
        verdict, style = f"As computed, with the errors below: {verdict.lower()}", "bold red"
    console.print(
        Text(
            f"{verdict} ±{imbalance['max_deviation_percent']:g} %: spread "
            f"{imbalance['spread_percent']:.1f} %, least flow in "
            f"{imbalance['min_share_loop']}, index loop {imbalance['index_loop']}",
            style=style,
        )
    )
    for cause in imbalance["causes"]:
        console.print(Padding(Text(f"because {cause}"), (0, 0, 0, 2)))
    for remedy in imbalance["remedies"]:
        console.print(Padding(Text(f"mend: {remedy}"), (0, 0, 0, 2)))


def _show_remarks(console: Console, result: Json) -> None:
    if result["findings"]:
        console.print()
    for finding in result["findings"]:
        console.print(
            Text.assemble(
                (f"{finding['severity']:<8}", _STYLES[finding["severity"]]),
                finding["message"],
                (f"  [{finding['code']}; {finding['source']}]", "dim"),
            )
        )
    console.print()
    for caution in result["cautions"]:
        console.print(Text(f"Caution  {caution}", style="dim"))


def show_problem(console: Console, problem: Json) -> None:
    """Print why a request was refused.

    Parameters
    ----------
    console
        Where to print.
    problem
        Body of an ``application/problem+json`` response.
    """
    title, detail = problem["title"], problem.get("detail", "")
    said = detail if detail.startswith(title) else f"{title}: {detail}"
    console.print(Text(said, style="bold red"))
    for error in problem.get("errors", []):
        line = Text.assemble(
            "  ",
            (error.get("pointer") or error.get("parameter") or "(whole request)", "bold"),
            f": {error['detail']}",
        )
        if "value" in error:
            line.append(f" (given: {error['value']!r}")
            line.append(f"; allowed: {error['allowed']})" if error.get("allowed") else ")")
        console.print(line)
