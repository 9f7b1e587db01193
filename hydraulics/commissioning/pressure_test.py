"""At what pressure is the buried pipe tested, how, and did the readings taken on site pass?

Two published procedures for polyethylene are offered: EN 805, clause A.27, and the contraction
method of DVGW W 400-2 (2022), which refines it. Both load the pipe, let it creep, let down quickly
and then watch: a tight PE pipe contracts and its pressure rises, a leaking one's falls.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final, Literal, NamedTuple

from hydraulics.checks import number_fault, refuse
from hydraulics.errors import Fault, InputError
from hydraulics.findings import COMMON_PRACTICE, Finding, figures
from hydraulics.layout.contents import PipeContents
from hydraulics.layout.heights import WATER_DENSITY, Bottom, Levels, column, standing
from hydraulics.layout.pressure_class import NO_SUPPORT
from hydraulics.pipework.pipe import CLASS_SOURCE, WARMEST_CLASS, Pipe, site_test_pressure

Stage = Literal["relaxation", "pressurising", "holding", "resting", "letting_down", "main"]
STAGES: Final[tuple[Stage, ...]] = (
    "relaxation", "pressurising", "holding", "resting", "letting_down", "main",
)  # fmt: skip

MINUTE: Final = 60.0  # s
WATER_MODULUS: Final = 2.1e9  # Pa, bulk modulus of water, EN 805 gives 2.1 GPa (from memory)
PE100_MODULUS: Final = 1.2e9
"""Short-term modulus of PE 100 [Pa] that published tables of the contraction method use (read). It
falls with time under load and with warmth: 0.8 GPa is common for a pipe loaded for an hour."""
AIR_FACTOR: Final = 1.2  # EN 805: allowance for air left before the main test
DOUBT: Final = 25e3  # Pa, largest fall when the main test is extended
ZERO_PRESSURE: Final = 20e3  # Pa gauge; a relaxing pipe still shows its static head
REACHED: Final = 0.98  # of STP, at the end of raising: common practice, no source
HELD: Final = (0.95, 1.05)  # of STP, while holding: common practice, no source
LEAST_TEST: Final = 100e3  # Pa, STP well above a relaxed pipe's head: common practice, no source
WARMEST: Final = 20.0  # degC, pipe in a test; a waterworks standard of 2009 (read)
STANDARD_SDR: Final = (5.0, 6.0, 7.4, 9.0, 11.0, 13.6, 17.0, 17.6, 21.0, 26.0, 33.0, 41.0)
"""Standard dimension ratios of ISO 4065 (from memory)."""
_ADIABATIC: Final = 1.4  # ratio of specific heats of air

CAUTIONS: Final = (
    "Test with water only. Never test with air or gas: it stores hundreds of times the energy, and"
    " a joint that fails becomes a projectile. Get all air out first, since air left in the pipe"
    " stores energy too and spoils the reading.",
    "Before pressurising: joints made and cooled for the maker's full time, ends and fittings"
    " restrained, pipe covered or held between the joints, gauge and hose rated for the test"
    " pressure, a relief valve set just above it, valves and vessels that cannot bear it isolated.",
    "While under pressure: keep everyone out of the trench and clear of ends, fittings and hoses,"
    " post the area, never tighten or strike a fitting, and read the gauge from a safe place. Let"
    " the pressure down slowly before anyone goes near.",
    "A falling gauge is not by itself a leak: PE creeps for a day or more, and pipe that warms by"
    " sun or cools after filling loses or gains pressure. Test covered pipe at a steady"
    " temperature, not above 20 °C, and do not test when the water could freeze.",
    "The governing standard, the pipe maker and local codes decide the test; have it done and"
    " signed by a qualified person. Dispose of the test water as the authority requires.",
)


def en805_system_test_pressure(design_pressure: float, *, surge_calculated: bool = False) -> float:
    """System test pressure STP of EN 805.

    Parameters
    ----------
    design_pressure
        Maximum design pressure MDP at the lowest point [Pa gauge], more than 0. It includes surge.
    surge_calculated
        True where the surge in it was calculated (MDPc); False where it is an allowance (MDPa,
        which EN 805 takes as 200 kPa at least; from memory).

    Returns
    -------
    float
        STP [Pa gauge]: MDPc + 100 kPa, or the lower of 1.5 MDPa and MDPa + 500 kPa.

    Raises
    ------
    InputError
        The pressure is not more than 0, or the test's less than :data:`LEAST_TEST`.

    References
    ----------
    EN 805:2000, 11.3.2 (both rules read in public reproductions, not in the standard).
    """
    refuse(number_fault("design_pressure", design_pressure / 1e3, "kPa", above=0.0))
    if surge_calculated:
        return design_pressure + 100e3
    pressure = min(1.5 * design_pressure, design_pressure + 500e3)
    _refuse_low("design_pressure", design_pressure, pressure)
    return pressure


def _refuse_low(field: str, given: float, test_pressure: float) -> None:
    """Refuse a test that a pipe without pressure could hardly be told from."""
    if test_pressure < LEAST_TEST:
        raise InputError(
            Fault(
                field,
                f"is {given / 1e3:g} kPa: a test at {test_pressure / 1e3:g} kPa proves nothing,"
                f" since a pipe that relaxes may still show {ZERO_PRESSURE / 1e3:g} kPa; test at"
                f" {LEAST_TEST / 1e3:g} kPa or more",
                given / 1e3,
                f"a test pressure of at least {LEAST_TEST / 1e3:g} kPa",
            )
        )


def en805_design_pressure(test_pressure: float) -> float:
    """Highest design pressure MDPa that a test pressure [Pa gauge] is enough for by EN 805.

    The other way round of :func:`en805_system_test_pressure`, surge as an allowance.
    """
    return max(test_pressure / 1.5, test_pressure - 500e3)


def en805_allowable_loss(
    contents: Sequence[PipeContents],
    drop: float,
    *,
    pipe_modulus: float,
    water_modulus: float = WATER_MODULUS,
    air_factor: float = AIR_FACTOR,
) -> float:
    """Largest volume of water that may leave a tight pipe while its pressure falls by ``drop``.

    Parameters
    ----------
    contents
        Pipes under test.
    drop
        Fall of pressure Δp [Pa], 0 or more.
    pipe_modulus
        Modulus of the wall E_R [Pa], at the time under load and the temperature of the test; see
        :data:`PE100_MODULUS`.
    water_modulus
        Bulk modulus of the water E_w [Pa].
    air_factor
        Allowance for air, 1.2 in EN 805; 1 for the pipe's own elasticity.

    Returns
    -------
    float
        ΔV_max = 1.2 Σ V Δp (1/E_w + D/(e E_R)) [m³], D the bore and e the wall, summed over pipes.

    Raises
    ------
    InputError
        A number is out of its range.

    References
    ----------
    EN 805:2000, A.27 (formula from memory; without the air factor, and with walls between the
    least and the largest of EN 12201-2, it encloses the ml/m table of the contraction method).
    """
    refuse(
        number_fault("pressure_drop", drop / 1e3, "kPa", at_least=0.0),
        number_fault("pipe_modulus", pipe_modulus / 1e6, "MPa", above=0.0),
        number_fault("water_modulus", water_modulus / 1e6, "MPa", above=0.0),
        number_fault("air_factor", air_factor, "", at_least=1.0),
    )
    give = sum(
        each.volume * (1.0 / water_modulus + each.pipe.bore / (each.pipe.wall * pipe_modulus))
        for each in contents
    )
    return air_factor * drop * give


def air_test_energy(volume: float, pressure: float) -> float:
    """Energy that compressed air gives up when its vessel bursts [J]; for cautions only.

    Parameters
    ----------
    volume
        [m³]
    pressure
        [Pa gauge]

    Notes
    -----
    Adiabatic expansion to 1 bar, E = p V/(γ-1) (1 - (p0/p)^((γ-1)/γ)), as ASME PCC-2 has it for
    the stand-off distance of pneumatic tests (from memory).
    """
    absolute, ambient = pressure + 101325.0, 101325.0
    share = 1.0 - math.pow(ambient / absolute, (_ADIABATIC - 1.0) / _ADIABATIC)
    return absolute * volume / (_ADIABATIC - 1.0) * share


def water_test_energy(
    contents: Sequence[PipeContents], pressure: float, pipe_modulus: float = PE100_MODULUS
) -> float:
    """Elastic energy of water and pipe wall under a test pressure [J], ½ p ΔV."""
    given = en805_allowable_loss(contents, pressure, pipe_modulus=pipe_modulus, air_factor=1.0)
    return 0.5 * pressure * given


@dataclass(frozen=True, slots=True)
class Procedure:
    """The times and limits of one published procedure for PE pipe.

    Attributes
    ----------
    name, source
        What it is, and what of it was read.
    relaxation, pressurising, holding, resting, letting_down, main
        Time of each stage [s]: at least so long, save pressurising and letting down, which may
        take no longer.
    rest_fall_most, rest_fall_least
        Fall while resting as a share of STP [-].
    let_down
        Range of the let-down as a share of STP [-], or None where it is a pressure.
    let_down_pressure
        Let-down [Pa] by SDR, where it is a pressure.
    main_fall
        Fall in the main test that is not yet a trend [Pa].
    gauge_step
        Coarsest step of a gauge that can show what the main test turns on [Pa].
    extended
        Time of the extended main test from its start [s].
    """

    name: str
    source: str
    rest_fall_most: float
    rest_fall_least: float = 0.0
    let_down: tuple[float, float] | None = None
    let_down_pressure: tuple[tuple[float, float], ...] = ()
    main_fall: float = 0.0
    gauge_step: float = DOUBT / 5.0  # common practice, no source
    relaxation: float = 60 * MINUTE
    pressurising: float = 10 * MINUTE
    holding: float = 30 * MINUTE
    resting: float = 60 * MINUTE
    letting_down: float = 2 * MINUTE  # EN 805 says rapidly; W 400-2's two minutes taken for it
    main: float = 30 * MINUTE
    extended: float = 90 * MINUTE


EN_805: Final = Procedure(
    name="EN 805:2000, A.27",
    source=(
        "EN 805:2000, A.27: preliminary phase (60 min relaxed, up within 10 min, 30 min held, 60"
        " min at rest, stop at a fall of more than 30 % of STP) read in a published translation;"
        " let-down by 10 to 15 % of STP, main phase of 30 min, extension to 90 min with at most"
        " 25 kPa from memory"
    ),
    rest_fall_most=0.30,
    let_down=(0.10, 0.15),
)
W_400_2: Final = Procedure(
    name="DVGW W 400-2:2022, contraction method",
    source=(
        "DVGW W 400-2 (2022) as summarised on public pages (read): up within 10 min, rest 60 min"
        " with a fall of 10 to 20 % of STP, let down within 2 min by 3.2 bar (PE 100 SDR 11) or 2.0"
        " bar (SDR 17), main test 30 min, extended by 60 min at a fall of more than 30 mbar, then"
        " at most 250 mbar; relaxation 60 min and holding 30 min read in a page on an earlier issue"
    ),
    rest_fall_most=0.20,
    rest_fall_least=0.10,
    let_down_pressure=((11.0, 3.2e5), (17.0, 2.0e5)),
    main_fall=3e3,
    gauge_step=3e3,
)
PROCEDURES: Final = {"en_805": EN_805, "w_400_2": W_400_2}


def pipe_sdr(pipe: Pipe) -> float:
    """Standard dimension ratio, outside diameter over wall [-]."""
    return pipe.outside_diameter / pipe.wall


def standard_sdr(ratio: float) -> float:
    """Ratio of :data:`STANDARD_SDR` that is nearest, the larger of two as near.

    Walls are rounded up and have a least thickness, so a pipe is as a rule a little below its own:
    32 x 2.0 mm is 16.0 and SDR 17, 20 x 2.0 mm is 10.0 and SDR 11 (EN 12201-2).
    """
    return min(reversed(STANDARD_SDR), key=lambda each: abs(each - ratio))


@dataclass(frozen=True, slots=True)
class PlannedStage:
    """One stage of a test as it is to be done.

    Attributes
    ----------
    duration
        [s]
    at_most
        True where the duration is the longest allowed, False where it is the shortest.
    pressure
        Pressure to be at, or to reach [Pa gauge]; None from the letting down on, which counts from
        wherever the rest ended.
    lowest, highest
        Pressures between which the stage must end [Pa gauge].
    """

    stage: Stage
    duration: float
    at_most: bool
    pressure: float | None
    lowest: float
    highest: float
    instruction: str


def let_down_range(
    procedure: Procedure, test_pressure: float, sdr: float | None
) -> tuple[float, float]:
    """Smallest and largest let-down [Pa]."""
    if procedure.let_down is not None:
        low, high = procedure.let_down
        return low * test_pressure, high * test_pressure
    of_series = None if sdr is None else standard_sdr(sdr)
    known = [drop for at, drop in procedure.let_down_pressure if at == of_series]
    if not known:
        offered = " or ".join(f"SDR {at:g}" for at, _ in procedure.let_down_pressure)
        raise InputError(
            Fault(
                "sdr",
                f"{procedure.name} gives its let-down for {offered} only; use the EN 805"
                " procedure, or the standard itself",
                sdr,
                offered,
            )
        )
    small, large = 0.9 * known[0], 1.1 * known[0]  # a hand valve hits it within a tenth (no source)
    least = large / (1.0 - procedure.rest_fall_most)
    if test_pressure <= least:
        raise InputError(
            Fault(
                "test_pressure",
                f"{procedure.name} lets down by up to {large / 1e3:g} kPa, more than may be left"
                " after the rest; use the EN 805 procedure",
                test_pressure / 1e3,
                f"more than {least / 1e3:g} kPa",
            )
        )
    return small, large


def planned_stages(
    procedure: Procedure,
    test_pressure: float,
    sdr: float | None = None,
    bears: float = math.inf,
    stands: float = 0.0,
) -> tuple[PlannedStage, ...]:
    """Stages of a test with their times and pressures.

    Parameters
    ----------
    test_pressure
        STP [Pa gauge].
    sdr
        Standard dimension ratio of the pipe; needed where the let-down depends on it.
    bears
        Most that the pipes bear in a site test, at the gauge [Pa gauge], see :func:`borne`.
    stands
        Water that stands above the gauge up to the highest pipe [Pa], which the gauge shows of a
        pipe without pressure.

    Raises
    ------
    InputError
        The test pressure is less than :data:`LEAST_TEST`, or the procedure has no let-down for it,
        or the highest pipe would hardly be tested, or have no pressure left in the main test.
    """
    refuse(number_fault("test_pressure", test_pressure / 1e3, "kPa", above=0.0))
    _refuse_low("test_pressure", test_pressure, test_pressure)
    small, large = let_down_range(procedure, test_pressure, sdr)
    least_rest = max((1.0 - procedure.rest_fall_most) * test_pressure, stands)
    most_rest = (1.0 - procedure.rest_fall_least) * test_pressure
    # After the least rest and let-down the highest pipe still needs pressure.
    left, drop = 1.0 - procedure.rest_fall_least, small
    if procedure.let_down is not None:
        left, drop = left - procedure.let_down[0], 0.0
    least = max(stands + LEAST_TEST, (stands + drop) / left)
    if stands > 0.0 and test_pressure < least:
        raise InputError(
            Fault(
                "test_pressure",
                f"the test is at {figures(test_pressure / 1e3, 6)} kPa at the gauge, and"
                f" {figures(stands / 1e3, 4)} kPa of it are water that stands above: the highest "
                f"pipe would be tested at less than {LEAST_TEST / 1e3:g} kPa, or have none left "
                "when let down; put the gauge higher, or test at more if every pipe bears it",
                test_pressure / 1e3,
                f"at least {math.ceil(least / 1e3 * (1.0 - 1e-9)):g} kPa at the gauge",
            )
        )
    bar = 1e5
    most = max(test_pressure, min(HELD[1] * test_pressure, bears))
    floor = f" Let it fall to no less than {stands / bar:.2f} bar." if stands else ""
    above = f" The gauge then shows {stands / bar:.2f} bar of water above it." if stands else ""
    fall = f"{100 * procedure.rest_fall_most:g} % of the test pressure"
    return (
        PlannedStage("relaxation", procedure.relaxation, False, stands, 0.0,
                     stands + ZERO_PRESSURE,
                     "Fill slowly from the lowest point, vent at the highest, leave the pipe"
                     f" without pressure; let no air in.{above}"),
        PlannedStage("pressurising", procedure.pressurising, True, test_pressure,
                     REACHED * test_pressure, most,
                     f"Raise steadily to {test_pressure / bar:.2f} bar."),
        PlannedStage("holding", procedure.holding, False, test_pressure, HELD[0] * test_pressure,
                     most,
                     "Hold by pumping now and then; look for obvious leaks from a safe place."),
        PlannedStage("resting", procedure.resting, False, test_pressure, least_rest, most_rest,
                     "Shut off and let the pipe stretch, without pumping; read the pressure at once"
                     " and at the end."
                     f" From its highest it may fall by {fall} at most,"
                     f" {procedure.rest_fall_most * test_pressure / bar:.2f} bar, and to no less"
                     f" than {least_rest / bar:.2f} bar."),
        PlannedStage("letting_down", procedure.letting_down, True, None,
                     max(least_rest - large, stands), most_rest - small,
                     f"Bleed {small / bar:.2f} to {large / bar:.2f} bar off, counted from the"
                     " reading at the end of the rest, in one go into a measure and record the"
                     f" volume.{floor}"),
        PlannedStage("main", procedure.main, False, None,
                     max(least_rest - large - DOUBT, stands), most_rest,
                     "Watch the pressure on a gauge that shows steps of"
                     f" {procedure.gauge_step / 1e3:g} kPa or finer: it rises as the pipe"
                     " contracts, to less than the rest ended at, and must not fall."),
    )  # fmt: skip


def testable(procedure: Procedure, test_pressure: float, sdr: float | None, stands: float) -> bool:
    """Whether a test can be done at a pressure [Pa gauge], see :func:`planned_stages`."""
    if not 0.0 < test_pressure < math.inf:
        return test_pressure > 0.0
    try:
        planned_stages(procedure, test_pressure, sdr, stands=stands)
    except InputError:
        return False
    return True


class Borne(NamedTuple):
    """Most that a pipe bears in a site test [Pa gauge], at the gauge, and which pipe it is."""

    pressure: float
    pipe: str


def borne(levels: Levels, temperature: float | None = None) -> Borne:
    """Most that the gauge may show so that every pipe bears it where it lies lowest.

    Parameters
    ----------
    levels
        Where gauge and pipe lie; the water between them is added, and no support from outside.
    temperature
        Of the pipe's wall [degC]; None where not known.

    Returns
    -------
    Borne
        Not less than 0; infinite where no pipe's class is known.
    """
    each = (
        Borne(site_test_pressure(at.pipe, temperature) - _stands(levels, at), at.pipe.name)
        for at in levels.bottoms
    )
    least = min(each, default=Borne(math.inf, ""))
    return least._replace(pressure=max(least.pressure, 0.0))


def classless(levels: Levels) -> tuple[str, ...]:
    """Names of the pipes whose class is not known."""
    return tuple({each.pipe.name: 0 for each in levels.bottoms if each.pipe.pressure_class is None})


def _stands(levels: Levels, bottom: Bottom) -> float:
    """Water between the gauge, as high as it may stand, and a place of the pipe [Pa]."""
    return column(levels.highest_gauge - bottom.level, WATER_DENSITY)


def _lowest(levels: Levels) -> Iterator[Bottom]:
    """Lowest place of each pipe, in or outside boreholes."""
    found: dict[Pipe, Bottom] = {}
    for each in levels.bottoms:
        if each.pipe not in found or each.level < found[each.pipe].level:
            found[each.pipe] = each
    yield from found.values()


def _instead(levels: Levels, most: Borne, pipe: Pipe, too_little: bool) -> str:
    """What to test at where a pipe does not bear it: what every pipe of the array bears."""
    alone = most.pipe == pipe.name
    if most.pressure <= 0.0:
        return ": the water alone is more than " + ("that" if alone else f"{most.pipe} bears")
    at = f"{math.floor(most.pressure / 1e3) / 1e2:.2f} bar at the gauge"
    of = "" if alone else f", for {most.pipe} bears no more"
    if classless(levels):
        of += ", as far as classes are known"
    if too_little:
        return (
            f": {at} would be borne{of}; that is too little to test the highest pipe; test low"
            " pipe by itself, or take pipe of a higher class"
        )
    return f", but at {at} at most{of}"


def pressure_test_findings(
    contents: Sequence[PipeContents],
    levels: Levels,
    test_pressure: float,
    pipe_temperature: float | None = None,
    *,
    too_little: bool = False,
) -> Iterator[Finding]:
    """Where the pipe should not bear the test, or the test would mislead.

    Parameters
    ----------
    contents
        Pipes under test.
    levels
        Where they and the gauge lie.
    test_pressure
        STP at the gauge [Pa gauge].
    pipe_temperature
        Of the pipe's wall [degC]; None where not known.
    too_little
        Whether the most that every pipe bears at the gauge is less than a test can be done at.
    """
    most = borne(levels, pipe_temperature)
    for bottom in _lowest(levels):
        pipe, rated = bottom.pipe, bottom.pipe.pressure_class
        stands = _stands(levels, bottom)
        at = test_pressure + stands
        text = f"The test pressure of {test_pressure / 1e5:.2f} bar"
        support = ""
        if abs(stands) >= 500.0:
            text += (
                " at the gauge, "
                + standing("water", stands, bottom.where, levels.highest_gauge - bottom.level, 4)
                + f" is {at / 1e5:.2f} bar there, and"
            )
            support = " The pipe is taken by itself: " + NO_SUPPORT + "." if bottom.hole else ""
            support += "".join(f" {each}" for each in levels.assumed)
        else:
            text += " is"
        if rated is None:
            yield Finding(
                "pressure_class_unknown", "warning",
                f"The pressure class of {pipe.name} is not known; ask its maker whether it"
                f" bears {at / 1e5:.2f} bar.",
                COMMON_PRACTICE,
            )  # fmt: skip
        elif at > (bears := site_test_pressure(pipe, pipe_temperature)):
            instead = _instead(levels, most, pipe, too_little)
            yield Finding(
                "test_pressure_above_pipe", "error",
                f"{text} above the allowable"
                f" site test pressure {bears / 1e5:.1f} bar of"
                f" {pipe.name}; do not test it so{instead}.{support}",
                "EN 805, PEA of a component as 1.5 PFA or PFA + 5 bar (from memory)",
            )  # fmt: skip
        elif at > rated:
            yield Finding(
                "test_pressure_above_class", "warning",
                f"{text} above the class of"
                f" {pipe.name}, {rated / 1e5:.1f} bar; ask the pipe maker before testing so."
                f"{support}",
                CLASS_SOURCE,
            )  # fmt: skip
    if pipe_temperature is not None and pipe_temperature > WARMEST:
        yield Finding(
            "pipe_warm", "error" if pipe_temperature > WARMEST_CLASS else "warning",
            f"The pipe is at {pipe_temperature:g} °C: PE loses strength and creeps more above"
            f" {WARMEST:g} °C, so that no record taken so passes. Cover it, wait, and test in the"
            " cool of the day.",
            "A waterworks standard of 2009 after DVGW W 400-2 allows at most 20 °C (read)",
        )  # fmt: skip
    volume = math.fsum(each.volume for each in contents)
    air, water = air_test_energy(volume, test_pressure), water_test_energy(contents, test_pressure)
    if water > 0.0:
        yield Finding(
            "never_test_with_air", "info",
            f"Filled with air at {test_pressure / 1e5:.2f} bar this pipe would store"
            f" {figures(air / 1e3)} kJ, {air / water:.0f} times what it stores filled with water:"
            " never test with air.",
            "Adiabatic expansion of air, as in ASME PCC-2 (from memory)",
        )  # fmt: skip
