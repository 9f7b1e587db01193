"""What should each loop's flow meter show, so that a fitter can prove the balance on site?"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

from hydraulics.checks import number_fault, refuse
from hydraulics.errors import Fault, InputError
from hydraulics.findings import COMMON_PRACTICE, Finding, figures, listed

LITRES_PER_MINUTE = 60e3  # L/min in one m3/s
_ROUNDING = 1e-9  # of a limit, which is no error of a meter

CAUTION = (
    "Read the meters with the array at the temperature of these flows, pump at its commissioned"
    " setting and air purged: colder brine is more viscous and splits otherwise. A float-type meter"
    " calibrated for water misreads a mixture; use its maker's correction."
)


@dataclass(frozen=True, slots=True)
class MeterReading:
    """Expected reading of one loop's flow meter.

    Attributes
    ----------
    loop
        Name of the loop.
    expected
        Expected reading: the flow as it is computed [m³/s].
    lowest, highest
        Band around the loop's target at the flow of the whole array, which proves the balance
        where all meters together show that flow [m³/s]; the lowest is not below the highest where
        the meter is too coarse for any reading to prove it.
    error
        What the loop's share of all readings is uncertain by, as a fraction of it.
    """

    loop: str
    expected: float
    lowest: float
    highest: float
    error: float

    @property
    def has_band(self) -> bool:
        """Whether any reading proves the target."""
        return self.lowest < self.highest

    @property
    def proves_itself(self) -> bool:
        """Whether a reading just as expected lies within the band."""
        slack = _ROUNDING * self.expected
        return self.lowest - slack <= self.expected <= self.highest + slack

    @property
    def expected_l_min(self) -> float:
        """Expected reading in the unit that manifolds' meters are marked in [L/min]."""
        return self.expected * LITRES_PER_MINUTE


def expected_readings(
    loops: Sequence[str],
    flows: Sequence[float],
    targets: Sequence[float],
    *,
    tolerance: float = 0.10,
    meter_accuracy: float = 0.05,
    proof_wanted: bool = True,
) -> tuple[MeterReading, ...]:
    """Expected flow-meter readings with an acceptance band.

    Parameters
    ----------
    loops
        Names.
    flows
        Volume flow of each loop as it is computed [m³/s], more than 0.
    targets
        What it should be [m³/s], more than 0.
    tolerance
        Deviation from the target that is accepted, as a fraction, 0 to less than 1 (0.10 is
        common practice, no source).
    meter_accuracy
        Error of the meter, as a fraction of the reading, 0 to less than 1 (0.05: manifold float
        meters show 5 to 10 %; common practice, no source). It narrows the band, so that a reading
        inside it proves the flow within the tolerance; where it is not finer than the tolerance
        no reading could.
    proof_wanted
        Whether a meter so coarse is refused.

    Returns
    -------
    tuple of MeterReading
        In the order of the loops.

    Raises
    ------
    InputError
        Lists of unequal length, flows not above 0, or a meter too coarse for the tolerance.
    """
    if not len(loops) == len(flows) == len(targets):
        raise InputError(
            Fault("flows", "give one flow for every loop", len(flows), f"{len(loops)} flows")
        )
    refuse(
        *(number_fault(f"flows.{n}", q * 1e3, "L/s", above=0.0) for n, q in enumerate(flows)),
        *(number_fault(f"targets.{n}", q * 1e3, "L/s", above=0.0) for n, q in enumerate(targets)),
        number_fault("tolerance", 100.0 * tolerance, "%", above=0.0),
        number_fault("meter_accuracy", 100.0 * meter_accuracy, "%", at_least=0.0),
    )
    if proof_wanted and not meter_accuracy < tolerance < 1.0:
        raise InputError(
            Fault(
                "meter_accuracy",
                "the meter must be finer than the tolerance (and that below 100 %), or no reading"
                " proves the balance",
                100.0 * meter_accuracy,
                f"less than {figures(100.0 * tolerance)} %",
            )
        )
    # The error is of the reading, so the true flow lies between (1-a) and (1+a) times the reading.
    return tuple(
        MeterReading(
            name,
            flow,
            (1.0 - tolerance) / (1.0 - error) * target,
            (1.0 + tolerance) / (1.0 + error) * target,
            error,
        )
        for name, flow, target, error in zip(
            loops, flows, targets, _share_errors(targets, meter_accuracy), strict=True
        )
    )


def _share_errors(targets: Sequence[float], accuracy: float) -> list[float]:
    """What each loop's share of all readings is uncertain by, as a fraction of it.

    That of independent errors (JCGM 100:2008, GUM, 5.1.2), of a loop with the share w of them
    all a √((1 - w)² + the sum of the others' w²), but no less than one meter's, the safe side.
    More it is only where loops are very unlike: of two as 1 to 4, 1.13 times for the lesser.
    """
    total = sum(targets)
    squares = sum((each / total) ** 2 for each in targets)
    return [accuracy * math.sqrt(max(1.0, 1.0 - 2.0 * each / total + squares)) for each in targets]


def judge_readings(
    expected: Sequence[MeterReading], readings: Sequence[float]
) -> tuple[Literal["low", "within", "high"], ...]:
    """Say whether each reading's share of them all is below, within or above that of its band.

    Parameters
    ----------
    expected
        Bands of all loops.
    readings
        What their meters show [m³/s], in the same order, not all 0.

    Notes
    -----
    Readings are brought to the flow of the whole array first, so that what all meters show too
    much or too little of does not count. What a share is uncertain by is in the bands already.
    """
    refuse(
        *(
            number_fault(f"readings.{n}.flow", reading * LITRES_PER_MINUTE, "L/min", at_least=0.0)
            for n, reading in enumerate(readings)
        )
    )
    total = sum(readings)
    if total <= 0.0:
        return tuple("low" for _ in readings)
    factor = sum(each.expected for each in expected) / total
    return tuple(
        _judged(each, reading * factor) for each, reading in zip(expected, readings, strict=True)
    )


def _judged(expected: MeterReading, reading: float) -> Literal["low", "within", "high"]:
    if reading < expected.lowest * (1.0 - _ROUNDING):
        return "low"
    return "high" if reading > expected.highest * (1.0 + _ROUNDING) else "within"


def share_finding(
    expected: Sequence[MeterReading], readings: Sequence[float], verdicts: Sequence[str]
) -> Finding | None:
    """Tell of readings [m³/s] whose verdict is not what they by themselves show, or None."""
    other = {True: list[str](), False: list[str]()}
    for each, reading, verdict in zip(expected, readings, verdicts, strict=True):
        alone = _judged(each, reading)
        if (verdict == "within") is not (alone == "within"):
            other[verdict == "within"].append(each.loop)
    said = [f"outside its band and yet within: {listed(other[True])}"] if other[True] else []
    said += [f"in its band and yet not within: {listed(other[False])}"] if other[False] else []
    if not said:
        return None
    return Finding(
        "meters_judged_by_share", "info",
        "A reading is judged by its share of all readings, since all meters together may show more"
        f" or less than the array's flow. By itself {'; '.join(said)}.",
        "definition",
    )  # fmt: skip


def outside_findings(
    expected: Sequence[MeterReading],
    verdicts: Sequence[str],
    deviations: Sequence[float],
    *,
    tolerance: float,
    accuracy: float,
) -> Iterator[Finding]:
    """Tell of loops whose share of all readings is outside its band: surely off, or not proved.

    Parameters
    ----------
    expected, verdicts
        Bands of all loops, and how each was judged.
    deviations
        Of each loop's share from its target, as a fraction.
    tolerance, accuracy
        What is accepted of a loop, and a meter's error, as fractions.
    """
    sure, unsure = list[str](), list[str]()
    for each, verdict, off in zip(expected, verdicts, deviations, strict=True):
        if verdict == "within":
            continue
        low, high = (1.0 + off) * (1.0 - each.error), (1.0 + off) * (1.0 + each.error)
        (sure if high < 1.0 - tolerance or low > 1.0 + tolerance else unsure).append(
            f"{each.loop} has {figures(100.0 * abs(off))} % too {'much' if off > 0.0 else 'little'}"
        )
    most = f"{figures(100.0 * tolerance)} %"
    if sure:
        yield Finding(
            "meters_outside_band", "error",
            f"By its meters the array is not balanced: of its share of the flow {listed(sure)}, "
            f"further off than the {most} that is accepted and the meters' error together. Look for"
            " air, a valve that is shut or set otherwise and pipe that is kinked, set the loops, "
            "and read every meter again.",
            COMMON_PRACTICE,
        )  # fmt: skip
    if unsure:
        yield Finding(
            "meters_outside_band", "warning",
            f"By its meters the balance is not proved: of its share of the flow {listed(unsure)}, "
            f"and whether that is within {most} a meter with an error of "
            f"{figures(100.0 * accuracy)} % does not tell. Set the loops nearer or take finer "
            "meters, and read every meter again.",
            COMMON_PRACTICE,
        )  # fmt: skip


def total_finding(shown: float, expected: float, most: float) -> Finding | None:
    """Tell of meters that together show another flow than the array's, or None.

    Parameters
    ----------
    shown, expected
        Flow by all meters, and of the array as computed [m³/s].
    most
        Deviation that counts as the same flow, as a fraction.
    """
    off = shown / expected - 1.0
    if abs(off) <= most * (1.0 + _ROUNDING):
        return None
    more = "more" if off > 0.0 else "less"
    return Finding(
        "meters_total_off", "warning",
        f"All meters together show {figures(shown * LITRES_PER_MINUTE, 4)} L/min,"
        f" {figures(100.0 * abs(off))} % {more} than the "
        f"{figures(expected * LITRES_PER_MINUTE, 4)} L/min that the array should have; up to "
        f"{figures(100.0 * most)} % is taken as the same flow. Loops divide otherwise at another "
        "flow, so that the balance is not proved: check pump, setting,"
        " temperature, air and strainer, and read again.",
        COMMON_PRACTICE,
    )  # fmt: skip


def unread_finding(unread: list[str], loops: int) -> Finding:
    """Tell of loops whose meters were not read, of so many."""
    return Finding(
        "meters_not_all_read", "warning",
        f"{len(unread):,} of {loops:,} meters were not read: {listed(unread)}. A loop is"
        " judged by its share of all readings, so that nothing is proved before all are read.",
        COMMON_PRACTICE,
    )  # fmt: skip


def scale_finding(off: Sequence[str], low: float, high: float) -> Finding:
    """Tell of loops whose flow a meter's scale [m³/s] does not show."""
    return Finding(
        "meter_off_scale", "warning",
        f"The meters' scale, {_scale(low, high)}, does not show what the balance of "
        f"{listed(list(off))} turns on: a reading at its end proves nothing. Take meters whose "
        "scale has every loop's band within it.",
        COMMON_PRACTICE,
    )  # fmt: skip


def is_at_end(reading: float, low: float, high: float) -> bool:
    """Whether a reading is no less than its scale's end, or no more than its begin over 0 [m³/s].

    The flow may be any beyond then.
    """
    return reading >= high * (1.0 - _ROUNDING) or 0.0 < low >= reading * (1.0 - _ROUNDING)


def end_finding(at_end: Sequence[str], low: float, high: float) -> Finding:
    """Tell of loops whose meters stand at the end of their scale [m³/s], or beyond it."""
    names = listed(list(at_end))
    return Finding(
        "meter_off_scale", "warning",
        f"At the end of the meters' scale, {_scale(low, high)}, or beyond it stands the reading of "
        f"{names}: the flow may be any farther out, so that no loop is judged. Read again with "
        "meters whose scale has every loop's band well within it.",
        COMMON_PRACTICE,
    )  # fmt: skip


def _scale(low: float, high: float) -> str:
    begins = figures(low * LITRES_PER_MINUTE, 4)
    if math.isinf(high):
        return f"{begins} L/min and more"
    return f"{begins} to {figures(high * LITRES_PER_MINUTE, 4)} L/min"


def band_finding(beyond: Sequence[str], accuracy: float) -> Finding:
    """Tell of loops whose flow, right as it is, no meter of an accuracy [-] can prove to be."""
    return Finding(
        "meters_too_coarse", "warning",
        f"{listed(list(beyond))}: within the tolerance as computed, but so near its edge that a"
        f" meter with an error of {100.0 * accuracy:g} % cannot show it: a reading just as expected"
        " would fail. Balance the array nearer, agree a wider tolerance, or take finer meters.",
        COMMON_PRACTICE,
    )  # fmt: skip


def coarse_finding(expected: Sequence[MeterReading], accuracy: float, tolerance: float) -> Finding:
    """Tell of meters whose error [-] is no smaller than the tolerance that the array is held to."""
    shows = "of its reading shows none as nearly"
    if accuracy < tolerance:
        least = max(expected, key=lambda each: each.error)
        shows = (
            f"of its reading shows the share of {least.loop} by {100.0 * least.error:.1f} % only,"
            " since other loops have much more of the flow"
        )
    return Finding(
        "meters_too_coarse", "warning",
        f"Every loop is to be within {100.0 * tolerance:g} % of its target, and a meter with an "
        f"error of {100.0 * accuracy:g} % {shows}: no reading proves "
        "the balance. Take finer meters and tell their accuracy, or agree with whoever asks for "
        "that balance on a wider tolerance of the meters' own.",
        "error of the meters over the tolerance",
    )  # fmt: skip


def wider_finding(accepted: float, tolerance: float) -> Finding:
    """Tell of a tolerance of the meters' own [-] that is wider than the array's."""
    return Finding(
        "meters_prove_less", "warning",
        f"The meters are judged by {100.0 * accepted:g} % of the target, as told for them, and the"
        f" array is to be within {100.0 * tolerance:g} %: what they prove is the first. Leave the "
        "meters' own tolerance out to have them prove the other.",
        "the job's own numbers",
    )  # fmt: skip


def uneven_finding(tolerance: float, *, shown_even: bool) -> Finding:
    """Tell of flows as computed that are beyond a tolerance [-] of their targets.

    Parameters
    ----------
    tolerance
        The array's; the meters' own where the readings are within that and no flow computed is.
    shown_even
        Whether they are.
    """
    off = f"some loop's is further than {100.0 * tolerance:g} % from its target"
    text = (
        f"The flows that the meters are expected to show are themselves uneven: {off}, as the flow"
        " split tells, so that readings like these prove no balance within that. Balance the array"
        " first, then read them."
    )
    if shown_even:
        text = (
            f"The readings prove every loop within {100.0 * tolerance:g} % of its target, and as "
            f"computed {off}. The array that was read is not the one in the job: put in its valves "
            "as they were set, so that pump, temperatures and sheet are of what stands there."
        )
    return Finding("meters_of_uneven_split", "warning", text, COMMON_PRACTICE)
