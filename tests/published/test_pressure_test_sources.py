"""Pressure test of PE pipe against EN 805, DVGW W 400-2 and published tables.

"Read" means that the number was seen in a reproduction of the source; "from memory" that it was
not.
"""

import math
from dataclasses import replace

import pytest

from hydraulics.commissioning.pressure_test import (
    EN_805,
    MINUTE,
    PE100_MODULUS,
    W_400_2,
    air_test_energy,
    en805_allowable_loss,
    en805_system_test_pressure,
)
from hydraulics.layout.contents import PipeContents
from hydraulics.pipework.pipe import pe_pipe


def one_metre(name: str, length: float = 1.0) -> list[PipeContents]:
    pipe = pe_pipe(name)
    return [PipeContents("loops", pipe, length, length * pipe.bore_area)]


# EN 805, 11.3.2 without calculated surge: the lower of 1.5 MDPa and MDPa + 500 kPa (read in a
# works standard that quotes it, whose example is 10 bar -> 15 bar; 6 and 12 bar follow).
@pytest.mark.parametrize(("design_bar", "test_bar"), [(6.0, 9.0), (10.0, 15.0), (12.0, 17.0)])
def test_system_test_pressure_is_the_lower_of_both_rules(
    design_bar: float, test_bar: float
) -> None:
    assert en805_system_test_pressure(design_bar * 1e5) == pytest.approx(test_bar * 1e5)


def test_system_test_pressure_with_calculated_surge_adds_one_bar() -> None:
    # EN 805, 11.3.2 (read in a reproduction): STP = MDPc + 100 kPa.
    assert en805_system_test_pressure(6e5, surge_calculated=True) == pytest.approx(7e5)


# Specific water volume of the contraction method, ml per metre, E = 1200 N/mm2, let-down 3.2 bar
# (SDR 11) and 2.0 bar (SDR 17): a public page on testing by the contraction method (read).
TABLE = [
    ("PE100 SDR11 32", 3.2e5, 1.28), ("PE100 SDR11 40", 3.2e5, 1.95),
    ("PE100 SDR11 50", 3.2e5, 3.10), ("PE100 SDR11 63", 3.2e5, 4.95),
    ("PE100 SDR11 75", 3.2e5, 7.22), ("PE100 SDR11 90", 3.2e5, 10.35),
    ("PE100 SDR17 32", 2.0e5, 1.38), ("PE100 SDR17 40", 2.0e5, 2.30),
    ("PE100 SDR17 50", 2.0e5, 3.64), ("PE100 SDR17 63", 2.0e5, 5.78),
    ("PE100 SDR17 75", 2.0e5, 8.30), ("PE100 SDR17 90", 2.0e5, 12.01),
    ("PE100 SDR17 110", 2.0e5, 18.02),
]  # fmt: skip


@pytest.mark.parametrize(("pipe", "drop", "millilitres"), TABLE)
def test_elastic_volume_of_thinnest_and_thickest_wall_enclose_the_contraction_methods_table(
    pipe: str, drop: float, millilitres: float
) -> None:
    thin = pe_pipe(pipe)
    # Largest wall of EN 12201-2: 1.1 e + 0.1 mm rounded up to 0.1 mm, as 3.0 -> 3.4, 3.7 -> 4.2,
    # 8.2 -> 9.2, 10.0 -> 11.1 mm (read); the table does not say which wall it takes.
    wall = math.ceil(11.0 * thin.wall * 1e3 + 1.0 - 1e-6) / 10.0 * 1e-3
    thick = replace(thin, bore=thin.outside_diameter - 2.0 * wall)
    most, least = (
        1e6
        * en805_allowable_loss(
            [PipeContents("loops", each, 1.0, each.bore_area)],
            drop,
            pipe_modulus=1.2e9,
            air_factor=1.0,
        )
        for each in (thin, thick)
    )
    assert least <= millilitres <= most
    assert most / least < 1.25


def test_allowable_loss_of_the_worked_case() -> None:
    # 400 m of 40 x 3.7 SDR 11, 2 bar, E_w 2.1 GPa, E_R 0.8 GPa: 0.921 L. Computed by hand from the
    # formula: 1.2 · 0.33388 m3 · 2e5 Pa · (1/2.1e9 + 32.6/(3.7 · 0.8e9)) 1/Pa.
    loss = en805_allowable_loss(one_metre("PE100 SDR11 40", 400.0), 2e5, pipe_modulus=0.8e9)
    assert loss * 1e3 == pytest.approx(0.921, abs=0.0005)


def test_stage_times_of_en_805_are_those_of_the_published_translation() -> None:
    # Clause A.27 in a published translation (read): about 60 min relaxed, up in less than 10 min,
    # 30 min held, 1 h at rest; stop when the pressure falls by more than 30 % of STP.
    stages = (EN_805.relaxation, EN_805.pressurising, EN_805.holding, EN_805.resting)
    assert [time / MINUTE for time in stages] == [60, 10, 30, 60]
    assert EN_805.rest_fall_most == 0.30


def test_limits_of_the_contraction_method_are_those_of_its_2022_issue() -> None:
    # Public summary of DVGW W 400-2:2022 (read): fall at rest 10 to 20 % of STP; let down within
    # 2 min; more than 30 mbar in the first 30 min: 60 min more.
    assert (W_400_2.rest_fall_least, W_400_2.rest_fall_most) == (0.10, 0.20)
    assert W_400_2.letting_down == 2 * MINUTE
    assert W_400_2.main_fall == 30 * 100.0
    assert W_400_2.extended - W_400_2.main == 60 * MINUTE


def test_energy_of_an_air_test_is_that_of_asme_pcc_2() -> None:
    # ASME PCC-2, article 501 for air (from memory): E = 2.5 P V (1 - (Pa/P)^0.286), absolute.
    volume, gauge = 0.6, 9e5
    absolute = gauge + 101325.0
    energy = 2.5 * absolute * volume * (1.0 - (101325.0 / absolute) ** 0.286)
    assert air_test_energy(volume, gauge) == pytest.approx(energy, rel=1e-3)  # rounded exponent


def test_short_term_modulus_is_the_tables() -> None:
    assert PE100_MODULUS == 1200e6  # N/mm2 in the table (read)
