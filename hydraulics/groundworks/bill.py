"""What does the array take of everything, in one list, and what does it come to at given prices?"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from typing import Final, Literal

from hydraulics.findings import Finding, counted, listed
from hydraulics.groundworks.pipe_order import LoopCoil, OrderLine, PipeOrder
from hydraulics.groundworks.works import BEDDING_BULKING, Groundworks, Prices
from hydraulics.layout.circuit import Circuit, Plant
from hydraulics.layout.walk import circuits_of, standings
from hydraulics.pipework.fittings import Fitting

Unit = Literal["each", "m", "m³", "h", "kg"]
LEFT_OUT: Final = (
    "pump, vessel and all else in the plant room",
    "joints, tees and fittings that the job does not name",
    "laying, jointing, filling, testing, making good, the drilling rig's way there",
    "permits, insurance, waste and tax",
)
_HUNDREDTH: Final = Decimal("0.01")
_SOURCE: Final = "the job's own prices and the bill of quantities"


@dataclass(frozen=True, slots=True)
class Item:
    """A line of the bill.

    Attributes
    ----------
    item
        What it is; a price is given by these words.
    quantity, unit
        How much of it.
    detail
        Where it goes, or how it is set; empty where there is nothing to say.
    price
        Of a unit, in the caller's currency; None where none is given.
    """

    item: str
    quantity: float
    unit: Unit = "each"
    detail: str = ""
    price: float | None = None

    @property
    def amount(self) -> float | None:
        """Price of all of it, to the hundredth that is paid; None where none is given."""
        if self.price is None:
            return None
        amount = Decimal(str(self.price)) * Decimal(str(self.quantity))
        return float(amount.quantize(_HUNDREDTH, ROUND_HALF_UP))


@dataclass(frozen=True, slots=True)
class Bill:
    """Bill of quantities.

    Attributes
    ----------
    items
        Pipe, fittings and valves, manifolds, antifreeze, then work and materials of the digging.
    prices
        The caller's own; None where none are given.
    total
        Sum of the amounts; None where no item has a price.
    left_out
        What is not in it, in words.
    findings
        Items without a price, and prices of nothing in it.
    """

    items: tuple[Item, ...]
    prices: Prices | None
    total: float | None
    left_out: tuple[str, ...]
    findings: tuple[Finding, ...]


def bill(
    circuit: Circuit,
    plant: Plant | None,
    order: PipeOrder,
    dug: Groundworks,
    *,
    antifreeze: Sequence[Item] | None = None,
    prices: Prices | None = None,
) -> Bill:
    """Everything that the array takes, from the same model as its chapters.

    Parameters
    ----------
    circuit, plant
        For fittings, valves and manifolds.
    order, dug
        Pipe to order, and the digging.
    antifreeze
        What is bought to fill it; None where the job tells no filling.
    prices
        The caller's own, where there are any.
    """
    given = prices.of if prices is not None else {}
    items = [
        Item(each.item, each.quantity, each.unit, each.detail, given.get(each.item))
        for each in (
            *_pipe(order),
            *_fittings(circuit, plant),
            *_manifolds(circuit),
            *(antifreeze or ()),
            *_digging(dug),
        )
        if each.quantity > 0.0
    ]
    priced = [each.amount for each in items if each.amount is not None]
    unfilled = () if antifreeze is not None else ("antifreeze: the job tells no filling",)
    return Bill(
        tuple(items),
        prices,
        math.fsum(priced) if priced else None,
        (*unfilled, *LEFT_OUT),
        tuple(_priced(items, prices)) if prices is not None else (),
    )


def _pipe(order: PipeOrder) -> Iterator[Item]:
    for line in order.lines:
        name = f"{line.pipe.name}, coil of {line.coil:g} m"
        yield Item(name, line.count, detail="; ".join(_laid_from(line, order.loop_coils)))
    whole: dict[str, int] = {}
    for each in order.loop_coils:
        if each.coil is None:
            item = f"{each.pipe.name}, {each.needed:.1f} m in one piece"
            whole[item] = whole.get(item, 0) + each.count
    for item, count in whole.items():
        yield Item(item, count, detail="no coil on offer is so long")
    for probe in order.probes:
        yield Item(f"U-tube of {probe.pipe.name}, {probe.depth:g} m deep", probe.count)


def _laid_from(line: OrderLine, coils: Sequence[LoopCoil]) -> Iterator[str]:
    """What is laid from the coils of a line: loops in one piece each, and routes."""
    own = [each for each in coils if each.pipe == line.pipe and each.coil == line.coil]
    if own:
        least, most = min(each.needed for each in own), max(each.needed for each in own)
        span = f"{least:.1f} m" if most - least < 0.05 else f"{least:.1f} to {most:.1f} m"
        names = listed(list(dict.fromkeys(each.loop for each in own)))
        yield f"{names}: {span} in one piece each, the rest cut off"
    if line.routes:
        some = f"{line.routes} of them " if line.loops else ""
        yield f"{some}for headers, runs and tails"


def _fittings(circuit: Circuit, plant: Plant | None) -> Iterator[Item]:
    """Fittings that the job names, equal ones of one pipe together; how each valve is set."""
    found: dict[str, int] = {}
    settings: dict[str, list[str]] = {}
    for fitting, pipe, times, where in _named(circuit, plant):
        item = _called(fitting, pipe)
        found[item] = found.get(item, 0) + times * fitting.count
        if fitting.valve:
            at = f"at {fitting.position:g}, " if fitting.position is not None else ""
            settings.setdefault(item, []).append(f"{where}: {at}Kv {fitting.kv:.3g}")
    for item, count in found.items():
        yield Item(item, count, detail="; ".join(settings.get(item, ())))


def _called(fitting: Fitting, pipe: str) -> str:
    if fitting.valve:
        return fitting.valve
    if fitting.kv is not None:
        return f"fitting of Kv {fitting.kv:.3g} m³/h"
    if fitting.kind is not None:
        what = fitting.kind.replace("_", " ")
    else:
        what = f"fitting of loss coefficient {fitting.coefficient or 0.0:g}"
    return f"{what}, {pipe}" if pipe else what


def _named(circuit: Circuit, plant: Plant | None) -> Iterator[tuple[Fitting, str, int, str]]:
    """Every fitting, the pipe that it sits in, how often, and where."""
    for each in standings(circuit):
        branch, loop = each.branch, each.loop
        pipe = loop.pipe.name if loop is not None else ""
        for fitting in branch.fittings.fittings:
            yield fitting, pipe, each.count, each.name
        for run in branch.runs:
            for fitting in run.fittings.fittings:
                yield fitting, run.pipe.name, each.count, f"run to {each.name}"
        for leg in loop.legs if loop is not None else ():
            own, tubes = (leg.pipe.name if leg.pipe else pipe), leg.borehole
            times = each.count * (tubes.u_tubes if tubes is not None else 1)
            for fitting in leg.fittings.fittings:
                yield fitting, own, times, each.name
    for run in plant.runs if plant is not None else ():
        for fitting in run.fittings.fittings:
            yield fitting, run.pipe.name, 1, "the plant's runs"


def _manifolds(circuit: Circuit) -> Iterator[Item]:
    found: dict[int, int] = {}
    for here, times in circuits_of(circuit):
        ports = sum(branch.count for branch in here.branches)
        if here.arrangement == "manifold" and ports > 1:
            found[ports] = found.get(ports, 0) + times
    for ports, times in found.items():
        yield Item(f"manifold of {ports} ports, flow and return", times)


def _digging(dug: Groundworks) -> Iterator[Item]:
    if dug.bedding_loads:
        loose = dug.total.bedding * (1.0 + BEDDING_BULKING)
        loads = counted(dug.bedding_loads, "lorry load")
        yield Item("bedding, loose as delivered", loose, "m³", loads)
    spoil = dug.total.away_loose + (dug.drilling.spoil_loose if dug.drilling else 0.0)
    yield Item("spoil taken away, loose", spoil, "m³", counted(dug.lorries, "lorry load"))
    volume = f"{dug.total.dug:.1f} m³ dug in {dug.total.length:.1f} m of trench"
    yield Item("digger with driver", dug.digger_hours, "h", volume)
    if dug.drilling is not None:
        yield Item("drilling", dug.drilling.metres, "m", counted(dug.drilling.holes, "borehole"))
        yield Item("grout", dug.drilling.grout, "m³", "no loss into the ground counted")


def _priced(items: Sequence[Item], prices: Prices) -> Iterator[Finding]:
    known = {each.item for each in items}
    if bare := [each.item for each in items if each.price is None]:
        yield Finding(
            "bill_not_whole", "warning",
            f"No price is given for {len(bare)} of {len(items)} items: {_quoted(bare)}. The sum is"
            " of the others alone, and no quotation of the whole.",
            _SOURCE,
        )  # fmt: skip
    if unused := [each for each in prices.of if each not in known]:
        yield Finding(
            "price_not_used", "warning",
            f"Nothing in the bill is called {_quoted(unused)}: the price is not counted. Write the"
            " item as the bill does.",
            _SOURCE,
        )  # fmt: skip


def _quoted(names: Sequence[str]) -> str:
    return listed([f"'{each[:80]}'" for each in names])
