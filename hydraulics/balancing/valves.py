"""How far must each loop's regulating valve be closed for every loop to reach its flow?

At the flows wanted, every pipe's drop is known. What a loop's path takes less than the index
path, its valve must take: one evaluation, no iteration, for any nesting, since a valve in a loop
changes no other path. Positions of a table are another matter: see `positions`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from fluids.control_valve import Reynolds_factor, Reynolds_valve
from numpy.typing import NDArray

from hydraulics.balancing.positions import Solve, best_positions
from hydraulics.balancing.unlike import most_unlike
from hydraulics.errors import Fault, InputError
from hydraulics.findings import COMMON_PRACTICE, HEAD_LIMIT, Finding, figures, listed
from hydraulics.layout.circuit import Branch, Circuit, Loop
from hydraulics.layout.edit import edited, one_by_one, with_added
from hydraulics.layout.walk import Place, standings, walk
from hydraulics.pipework.fittings import NO_LOSS, Fitting, Loss, kv_from_loss, loss_from_kv
from hydraulics.split.assembly import IN_LOOP, Network
from hydraulics.split.drops import branch_flows, drops_at
from hydraulics.split.reached import Reached, path_drops, solve_near

Array = NDArray[np.float64]

NARROWEST_OPENING: Final = 3e-3  # m; grit and air scale lodge in less; common practice, no source
LARGEST_AUTHORITY: Final = 0.5  # beyond it the valve takes more than the loop; common practice
LEAST_SIGNAL: Final = 1e3  # Pa; a smaller drop across a valve is hard to read; common practice
SAME_DROP: Final = 1e-9  # of the largest path: a valve's drop below this is rounding
TURBULENT_VALVE: Final = 1e4  # valve Reynolds number from which Kv holds (EN 60534-2-1)
VALVE_REYNOLDS_SOURCE: Final = (
    "EN 60534-2-1: a Kv measured with water holds from a valve Reynolds number of 10,000; "
    "FL 0.9 and Fd 0.46 of a globe valve with a parabolic plug"
)
WORTH_A_WORD: Final = 0.95  # a valve Reynolds factor below this is told
UNNAMED: Final = "regulating valve"
"""What a valve is called whose table gives it no name."""
_DISCHARGE: Final = 0.61  # of a sharp-edged opening (White, Fluid Mechanics, from memory)
# EN 60534-2-1: FL and Fd of a globe valve with parabolic plug; Kv / mm² that parts full-size trim.
_FL, _FD, _FULL_TRIM = 0.9, 0.46, 0.016


@dataclass(frozen=True, slots=True)
class ValveTable:
    """A regulating valve's own table.

    Attributes
    ----------
    positions
        What the handwheel shows, rising towards open.
    kvs
        Kv at each [m³/h], rising; the last is fully open.
    name
        What the valve is called.
    """

    positions: tuple[float, ...]
    kvs: tuple[float, ...]
    name: str = ""

    def __post_init__(self) -> None:
        faults = []
        if not self.kvs or len(self.kvs) != len(self.positions):
            faults.append(
                Fault("positions", "give as many Kv as positions, at least one", len(self.kvs))
            )
        for name, unit, values, least in (
            ("position", "", self.positions, -math.inf),
            ("kv", " m³/h", self.kvs, 0.0),
        ):
            last = least
            for number, value in enumerate(values):
                if not (math.isfinite(value) and value > last):
                    faults.append(
                        Fault(
                            f"positions.{number}.{name}",
                            "positions and their Kv must be numbers that rise from row to row, "
                            "and a Kv more than 0",
                            value,
                            f"more than {last:g}{unit}" if math.isfinite(last) else "a number",
                        )
                    )
                    break
                last = value
        if faults:
            raise InputError(*faults)


@dataclass(frozen=True, slots=True)
class ValveSettings:
    """Setting of each loop's valve, in the order of the layout.

    Attributes
    ----------
    index_loop
        Loop whose path takes most, so that its exact setting is fully open.
    wanted
        Loss at which every loop has its target flow, Δp = ρ · wanted · Q² [1/m⁴].
    kv
        That as Kv [m³/h]; infinite where nothing is to be taken (fully open, no Kv given for that).
    square
        Loss of the valve as it is set, in its position where a table is given [1/m⁴]; what follows
        is of that.
    drop
        Pressure drop of the valve at the loop's target flow [Pa].
    coefficient
        Its loss coefficient K = 2 Δp / (ρ v²) [-].
    bore
        Bore that K is referred to: that of the loop's longest section [m].
    authority
        Drop of the valve over that of valve, loop and the loop's own run [-].
    opening
        Diameter of a sharp-edged hole of the same Kv [m].
    reynolds, reynolds_factor
        Valve Reynolds number and factor after EN 60534-2-1 [-]: in brine the valve acts as one of
        factor · Kv, so that Kv / factor is to be set; see :data:`VALVE_REYNOLDS_SOURCE`.
    open_kv
        Kv of the fully open valve [m³/h]; infinite where neither table nor loss is given.
    position, position_kv
        Row of the valve's table that is set, and its Kv [m³/h]; None where no table is given.
    """

    index_loop: int
    wanted: Array
    kv: Array
    square: Array
    drop: Array
    coefficient: Array
    bore: Array
    authority: Array
    opening: Array
    reynolds: Array
    reynolds_factor: Array
    open_kv: Array
    position: Array | None
    position_kv: Array | None

    @property
    def fully_open(self) -> NDArray[np.bool_]:
        """Whether each loop's valve stays fully open."""
        kv = self.kv if self.position_kv is None else self.position_kv
        return np.asarray(kv >= self.open_kv * (1.0 - SAME_DROP))


def valve_settings(
    network: Network,
    target: Array,
    table: ValveTable | None = None,
    open_square: Array | float = 0.0,
) -> ValveSettings:
    """Setting of a valve in each loop at which every loop has its target flow.

    Parameters
    ----------
    network
        The assembled array, without the valves.
    target
        Mass flow that each loop should have [kg/s], each more than 0.
    table
        The valve's own table; None: any setting.
    open_square
        Loss of the fully open valve of each loop where there is no table [1/m⁴].

    Returns
    -------
    ValveSettings
        Settings; exact, and with a table the nearest row (in the ratio of Kv).

    Notes
    -----
    All paths are brought to the largest: path of a loop at the target flows, with its valve fully
    open. The valve has the loss of turbulent flow, Δp = ρ a Q².
    """
    brine = network.fluids[IN_LOOP]
    drops = drops_at(network, branch_flows(network, target), float(target.sum()))
    volume_flow = target / brine.density
    per_square = brine.density * volume_flow**2
    path = path_drops(network, drops)
    if table is not None:
        open_square = loss_from_kv(table.kvs[-1]).square
    with_open = path + open_square * per_square
    largest = float(with_open.max())
    excess = largest - with_open
    excess[excess < SAME_DROP * largest] = 0.0
    index = int((excess == 0.0).argmax())  # of paths as good as equal, the first
    square = open_square + excess / per_square
    row = None if table is None else _nearest_row(_kv_of(square), table)
    found = _told(network, target, index, square, table=table, row=row)
    open_to = np.broadcast_to(np.asarray(open_square, dtype=np.float64), square.shape)
    return replace(found, open_kv=_kv_of(open_to))


def _told(
    network: Network,
    target: Array,
    index: int,
    wanted: Array,
    *,
    table: ValveTable | None,
    row: NDArray[np.intp] | None,
) -> ValveSettings:
    """All that is to be known of valves at the target flows: set to those rows, or as wanted."""
    square = wanted if table is None else _squares(table)[row]
    brine = network.fluids[IN_LOOP]
    drops = drops_at(network, branch_flows(network, target), float(target.sum()))
    volume_flow = target / brine.density
    drop, kv = square * brine.density * volume_flow**2, _kv_of(square)
    bore = np.asarray([loop.sections[loop.main_section].pipe.bore for loop in network.loops])
    valve_reynolds, factor = en_60534_valve_flow(
        volume_flow, kv, bore, brine.viscosity / brine.density
    )
    return ValveSettings(
        index_loop=index,
        wanted=wanted,
        kv=_kv_of(wanted),
        square=square,
        drop=drop,
        coefficient=square * (math.pi**2 / 8.0) * bore**4,
        bore=bore,
        authority=drop / (drop + drops.carrier_drop[network.loop_rows]),
        opening=_equal_opening(kv),
        reynolds=valve_reynolds,
        reynolds_factor=factor,
        open_kv=np.full(len(kv), math.inf if table is None else table.kvs[-1]),
        position=None if table is None else np.asarray(table.positions)[row],
        position_kv=None if table is None else np.asarray(table.kvs)[row],
    )


def _squares(table: ValveTable) -> Array:
    return np.asarray([loss_from_kv(kv).square for kv in table.kvs])


def _kv_of(square: Array) -> Array:
    return np.asarray([kv_from_loss(Loss(each)) for each in square.tolist()])


def _nearest_row(kv: Array, table: ValveTable) -> NDArray[np.intp]:
    """Row of the table that is nearest to each Kv, by their ratio."""
    ends = np.log(np.asarray(table.kvs))
    return np.searchsorted(0.5 * (ends[1:] + ends[:-1]), np.log(kv))


def nearer_positions(
    network: Network,
    target: Array,
    settings: ValveSettings,
    table: ValveTable,
    tolerance: float,
    *,
    solve: Solve | None = None,
) -> tuple[ValveSettings, bool]:
    """Other positions, where those nearest to the exact settings leave a loop beyond its tolerance.

    Parameters
    ----------
    network, target, table
        As for :func:`valve_settings`.
    settings
        What that found.
    tolerance
        Allowed deviation from the target, as a fraction.
    solve
        Solves the array with valves of these losses; None: at the target's total flow.

    Returns
    -------
    settings, proved
        Of positions that reach where any were found, else of the nearest that were found; and
        whether it is proved that they reach, or that no combination of the positions does.

    Notes
    -----
    See :func:`hydraulics.balancing.positions.best_positions`. Duties beyond one ordinary circulator
    and that of the exact settings are taken only where nothing below reaches.
    """

    def at_total(each: Array) -> Reached:
        return solve_near(with_valves(network, each), target, tolerance)

    solve = solve or at_total
    nearest = _nearest_row(settings.kv, table)
    found = best_positions(
        network,
        target,
        _squares(table),
        nearest,
        tolerance=tolerance,
        most_head=max(HEAD_LIMIT, solve(settings.wanted).duty.pressure),
        solve=solve,
    )
    if (found.rows == nearest).all():
        return settings, found.proved
    told = _told(network, target, settings.index_loop, settings.wanted, table=table, row=found.rows)
    return told, found.proved


def _equal_opening(kv: Array) -> Array:
    """Diameter [m] of a sharp-edged hole that passes Kv at 1 bar of water."""
    velocity = _DISCHARGE * math.sqrt(2.0 * 1e5 / 1000.0)
    return np.sqrt(4.0 / math.pi * (kv / 3600.0) / velocity)


def en_60534_valve_flow(
    volume_flow: Array, kv: Array, bore: Array, kinematic_viscosity: float
) -> tuple[Array, Array]:
    """Valve Reynolds number and factor after EN 60534-2-1, globe valve with a parabolic plug.

    Parameters
    ----------
    volume_flow
        [m³/s], more than 0.
    kv
        [m³/h], infinite where there is no valve.
    bore
        Bore of the valve and the pipe before it [m].
    kinematic_viscosity
        [m²/s]

    Returns
    -------
    reynolds, factor
        [-], infinite and 1 where there is no valve. The valve acts as one of factor · Kv.

    Notes
    -----
    Full-size trim where Kv / d² exceeds 0.016 (d in mm), else reduced trim, as the standard says.
    """
    reynolds, factor = np.full(len(kv), math.inf), np.ones(len(kv))
    rows = zip(volume_flow.tolist(), kv.tolist(), (bore * 1e3).tolist(), strict=True)
    for number, (flow, each, size) in enumerate(rows):
        if not math.isfinite(each):
            continue
        at = Reynolds_valve(kinematic_viscosity, flow * 3600.0, size, _FL, _FD, each)
        reynolds[number] = at
        if at < TURBULENT_VALVE:
            full = each / size**2 > _FULL_TRIM
            factor[number] = min(1.0, Reynolds_factor(_FL, each, size, at, full))
    return reynolds, factor


def open_globe_valves(network: Network) -> Array:
    """Loss of a fully open globe valve of each loop's bore [1/m⁴], for want of a valve's table.

    A regulating valve's plug and seat are those of a globe valve, which takes most of all kinds
    when open: on the safe side for the pump.
    """
    bores = [loop.sections[loop.main_section].pipe.bore for loop in network.loops]
    return np.asarray([Fitting(kind="globe_valve").loss(bore).square for bore in bores])


def with_valves(network: Network, square: Array) -> Network:
    """Put a loss into every loop of an assembled array without assembling it again.

    Parameters
    ----------
    network
        The assembled array.
    square
        Loss of each loop's valve, Δp = ρ · square · Q² [1/m⁴].

    Returns
    -------
    Network
        The same array with the losses added to the loops' ports.
    """
    added = np.zeros_like(network.square)
    added[network.loop_rows] = square / network.fluids[IN_LOOP].density
    return replace(network, square=network.square + added, loop_square=network.loop_square + added)


def name_of(table: ValveTable | None) -> str:
    """What valves of that table are called where they are put in."""
    return (table.name if table is not None else "") or UNNAMED


def without_valves(circuit: Circuit, name: str) -> Circuit:
    """The same array without the valves of that name in branches of loops that are not closed."""

    def change(branch: Branch, _: Place) -> Branch:
        own = branch.fittings
        gone = [each for each in own.fittings if each.valve == name and each.kv is not None]
        if not gone or not branch.flows or not isinstance(branch.item, Loop):
            return branch
        kept = tuple(each for each in own.fittings if each not in gone)
        less = sum(each.loss(None).square for each in gone)
        left = Loss(own.square - less, own.linear, kept) if kept else NO_LOSS
        return replace(branch, fittings=left)

    return edited(circuit, change)


def kv_there(circuit: Circuit, name: str) -> Array:
    """Kv [m³/h] to which each loop's valve of that name is set; infinite where it has none."""
    along = walk(circuit)
    square = [
        sum(
            (each.loss(None).square for each in along.branches[row].fittings.fittings
             if each.valve == name and each.kv is not None),
            start=0.0,
        )
        for row in along.loop_rows
    ]  # fmt: skip
    return _kv_of(np.asarray(square))


def set_valves(circuit: Circuit) -> tuple[tuple[str, ...], ...]:
    """Names of the valves that were set in each loop's branch, in the order of the layout."""
    along = walk(circuit)
    return tuple(
        tuple(
            each.valve or UNNAMED
            for each in along.branches[row].fittings.fittings
            if each.valve or each.position is not None
        )
        for row in along.loop_rows
    )


def valves_before_circuits(circuit: Circuit) -> list[str]:
    """Names of the circuits that have a valve that was set before them, and flow."""
    return [
        each.name.rstrip("/") or "an unnamed circuit"
        for each in standings(circuit)
        if each.loop is None
        and each.flows
        and any(one.valve or one.position is not None for one in each.branch.fittings.fittings)
    ]


def with_settings(circuit: Circuit, settings: ValveSettings, table: ValveTable | None) -> Circuit:
    """The same array with the valves put in as they are to be set.

    Parameters
    ----------
    circuit
        The array.
    settings
        Setting of each loop's valve, in the order of the layout.
    table
        The valve's own table: the settings' positions are set; None: to the exact Kv.

    Returns
    -------
    Circuit
        With equal branches written out, since equal loops along a header need unequal settings.
    """
    single = one_by_one(circuit)
    kvs = settings.kv if settings.position_kv is None else settings.position_kv
    positions: list[float | None] = [None] * len(kvs)
    if settings.position is not None:
        positions = settings.position.tolist()
    valves = {
        place: Fitting(kv=kv, valve=name_of(table), position=position).loss(None)
        for place, kv, position in zip(walk(single).places, kvs.tolist(), positions, strict=True)
        if math.isfinite(kv)
    }
    return with_added(single, fittings=valves)


def valve_findings(
    network: Network,
    target: Array,
    settings: ValveSettings,
    table: ValveTable | None,
    places: Sequence[Place] | None = None,
) -> list[Finding]:
    """What a designer should know about the settings before ordering valves.

    Parameters
    ----------
    network
        The array.
    target
        Mass flow that each loop should have [kg/s].
    settings
        Its settings.
    table
        The valve's table, or None.
    places
        Of the loops in the array with the valves; None: as in the network.

    Returns
    -------
    list of Finding
        Too narrow, too dominant, off the table, hard to read, too viscous for Kv.
    """
    found: list[Finding] = []

    def tell(code: str, severity: str, which: NDArray[np.bool_], words: str, source: str) -> None:
        at = np.flatnonzero(which)
        if at.size:
            names = listed([network.names[i] for i in at.tolist()])
            place = (places or network.places)[at[0]] if at.size == 1 else None
            found.append(Finding(code, severity, f"{names}: {words}", source, place))  # type: ignore[arg-type]

    narrow = settings.opening < NARROWEST_OPENING
    if narrow.any():
        tell("valve_clogging", "warning", narrow,
             f"Kv down to {figures(_kv_of(settings.square[narrow]).min(), 2)} m³/h is a gap like "
             f"a hole of {settings.opening[narrow].min() * 1e3:.1f} mm, which grit blocks; fit a "
             "strainer and flush first", COMMON_PRACTICE)  # fmt: skip
    below = settings.kv < (0.0 if table is None else table.kvs[0] * (1.0 - 1e-9))
    high = settings.authority > LARGEST_AUTHORITY
    for which, why in _why_high(network, target, settings, high):
        tell("valve_authority_high", "warning", which,
             f"the valve takes up to {100 * settings.authority[which].max():.0f} % of its loop's "
             f"drop, more than the loop itself: {why}", COMMON_PRACTICE)  # fmt: skip
    if table is not None and below.any():
        tell("valve_below_table", "warning", below,
             f"Kv {figures(settings.kv[below].min(), 2)} m³/h would give it just its flow and "
             f"the table ends at {figures(table.kvs[0], 2)}; choose a valve that closes further",
             "the valve's table")  # fmt: skip
    faint = (settings.drop > 0.0) & (settings.drop < LEAST_SIGNAL)
    if faint.any():
        tell("valve_signal_small", "info", faint,
             f"drops down to {figures(settings.drop[faint].min() / 1e3, 2)} kPa across the valve "
             "are too small to read well; check the flow by a flow "
             "meter", COMMON_PRACTICE)  # fmt: skip
    viscous = settings.reynolds_factor < WORTH_A_WORD
    if viscous.any():
        tell("valve_not_turbulent", "info", viscous,
             f"valve Reynolds numbers down to {settings.reynolds[viscous].min():.0f}: in this "
             f"brine a valve acts as one of {settings.reynolds_factor[viscous].min():.2f} of its "
             "Kv or more; set by measured flow, or choose the position by Kv over that factor",
             VALVE_REYNOLDS_SOURCE)  # fmt: skip
    return found


def _why_high(
    network: Network, target: Array, settings: ValveSettings, high: NDArray[np.bool_]
) -> list[tuple[NDArray[np.bool_], str]]:
    """Whether ways to the loops, valve or position make it high, each with the loops it is so for.

    By what the exact settings would take: with valves that take nothing open, and with those told.
    """
    if not high.any():
        return []
    drops = drops_at(network, branch_flows(network, target), float(target.sum()))
    path, carrier = path_drops(network, drops), drops.carrier_drop[network.loop_rows]
    density = network.fluids[IN_LOOP].density
    per_square = density * (target / density) ** 2
    most = carrier * LARGEST_AUTHORITY / (1.0 - LARGEST_AUTHORITY)
    room = path + most - path.max()  # what the open valves may take before it is high
    coarse = high & (settings.wanted * per_square <= most)
    unlike = high & ~coarse & (room <= SAME_DROP * path.max())
    small = high & ~unlike & ~coarse
    larger = ""
    if small.any():
        # Open valves raise the path whose loop and valve then take most, whichever that is.
        open_square = (((path + most)[small, None] - path) / per_square).min()
        larger = (
            "the valve is small for this flow; choose a larger one: with Kv "
            f"{_rounded_up(kv_from_loss(Loss(open_square)))} m³/h or more when open, and set to "
            "just the Kv that is wanted, it takes no more than the loop"
        )
    finer = (
        "the positions of its table are too coarse for the Kv that is wanted; choose a valve with "
        "finer ones"
    )
    told = ((unlike, most_unlike(network, target).told), (small, larger), (coarse, finer))
    return [(which, words) for which, words in told if which.any()]


def _rounded_up(value: float) -> str:
    """A number in two figures, none below it."""
    last = 10.0 ** (math.floor(math.log10(value)) - 1)
    return figures(math.ceil(value / last * (1.0 - 1e-12)) * last, 2)
