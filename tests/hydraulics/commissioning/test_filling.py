"""What is poured together, of which strength and out of which containers, by hand."""

import pytest

from hydraulics.commissioning.filling import (
    Bought,
    _bought_density,
    containers_for,
    filling,
    water_findings,
)
from hydraulics.errors import InputError
from hydraulics.fluid.mixture import fluid, mixture, water

GLYCOL = mixture("propylene_glycol", 0.25, "volume")
SALT = mixture("potassium_carbonate", 0.25, "mass")


def test_a_concentrate_by_volume_by_hand() -> None:
    # 1000 L of 25 % by volume, of 96 % by volume before mixing: 4 % of the concentrate is water.
    # By mass 25 % is 1036.4/(1036.4 + 3 * 998.2) = 25.71 %, 96 % is 96.14 %.
    pure = filling(GLYCOL, 1.0, 20.0)
    made = filling(GLYCOL, 1.0, 20.0, Bought(0.96, "volume"))
    assert pure.bought_mass_fraction == 1.0
    assert made.bought_mass_fraction == pytest.approx(0.96140, rel=1e-4)
    assert made.antifreeze_mass == pytest.approx(pure.antifreeze_mass / 0.96140, rel=1e-4)
    assert made.antifreeze_mass + made.water_mass == pytest.approx(made.mass)
    # Both hold as much glycol, and as much water in all.
    water_within = made.antifreeze_mass * (1 - made.bought_mass_fraction)
    assert made.water_mass + water_within == pytest.approx(pure.water_mass)
    # Litres of concentrate: more than the pure, by 1/0.96 less what mixing shrinks (under 1 %).
    assert pure.antifreeze_volume is not None
    assert made.antifreeze_volume == pytest.approx(pure.antifreeze_volume / 0.96, rel=0.01)


def test_a_premix_needs_no_water() -> None:
    for basis, strength in (("volume", 0.25), ("mass", GLYCOL.mass_fraction)):
        made = filling(GLYCOL, 1.0, 12.0, Bought(strength, basis))  # type: ignore[arg-type]
        assert made.water_mass == 0.0
        assert made.antifreeze_mass == pytest.approx(made.mass)
        # Filled at 12 °C and measured at 20 °C, where it is lighter.
        lighter = fluid(GLYCOL, 12.0).density / fluid(GLYCOL, 20.0).density
        assert made.antifreeze_volume == pytest.approx(lighter)
        assert list(water_findings(GLYCOL, made)) == []
    (told,) = water_findings(GLYCOL, filling(GLYCOL, 1.0, 12.0))
    assert (told.code, told.severity) == ("filling_water", "info")
    assert list(water_findings(water(), filling(water(), 1.0, 12.0))) == []


def test_a_salt_is_bought_as_a_solution_or_weighed() -> None:
    # 25 % out of 40 %: 25/40 of the mass is solution, 1.41 kg/L at 20 °C (CRC Handbook, memory).
    made = filling(SALT, 1.0, 12.0, Bought(0.40, "mass"))
    assert made.antifreeze_mass == pytest.approx(0.625 * made.mass)
    assert made.antifreeze_volume == pytest.approx(made.antifreeze_mass / 1414.0, rel=0.01)
    dry = filling(SALT, 1.0, 12.0, Bought(1.0, "mass"))
    assert dry.containers == ()
    assert dry.antifreeze_volume is None
    assert dry.antifreeze_mass == pytest.approx(0.25 * dry.mass)


@pytest.mark.parametrize(
    ("kind", "fraction", "density"),
    [
        # At 20 °C, CRC Handbook of Chemistry and Physics (from memory).
        ("ethanol", 0.80, 843.4),
        ("ethanol", 0.90, 818.0),
        ("methanol", 0.80, 846.9),
        ("glycerol", 0.80, 1208.5),
        # Ethylene glycol: 80 % by mass 1.099 (a maker's public table, from memory).
        ("ethylene_glycol", 0.80, 1099.0),
    ],
)
def test_densities_of_concentrates_beyond_the_correlation(
    kind: str, fraction: float, density: float
) -> None:
    assert _bought_density(kind, fraction) == pytest.approx(density, rel=0.012)


@pytest.mark.parametrize(
    ("mix", "bought", "field", "words"),
    [
        (GLYCOL, Bought(0.20, "volume"), "bought.fraction", "weaker than the mixture"),
        (GLYCOL, Bought(0.0, "mass"), "bought.fraction", "more than 0"),
        (GLYCOL, Bought(1.1, "mass"), "bought.fraction", "100"),
        (SALT, Bought(0.5, "volume"), "bought.basis", "by mass"),
        (SALT, Bought(1.0, "mass", (0.025,)), "bought.sizes", "weighed"),
        (water(), Bought(1.0, "mass"), "bought", "plain water"),
    ],
)
def test_what_the_mixture_cannot_be_made_of_is_refused(
    mix: object, bought: Bought, field: str, words: str
) -> None:
    with pytest.raises(InputError) as caught:
        filling(mix, 1.0, 12.0, bought)  # type: ignore[arg-type]
    (fault,) = caught.value.faults
    assert fault.field == field
    assert words in f"{fault.message} {fault.allowed}"


@pytest.mark.parametrize(
    ("litres", "sizes", "counted"),
    [
        (190, (20, 200, 1000), [(200, 1)]),
        (205, (20, 200, 1000), [(200, 1), (20, 1)]),
        (990, (20, 200, 1000), [(1000, 1)]),
        (1400, (20, 200, 1000), [(1000, 1), (200, 2)]),
        (4, (2, 3), [(2, 2)]),
        (0, (20, 200), []),
        (15, (20, 200), [(20, 1)]),
        (60, (20, 20), [(20, 3)]),
    ],
)
def test_containers_by_hand(
    litres: int, sizes: tuple[int, ...], counted: list[tuple[int, int]]
) -> None:
    found = containers_for(litres / 1e3, tuple(each / 1e3 for each in sizes))
    assert [(round(size * 1e3), count) for size, count in found] == counted
    made = filling(GLYCOL, 1.0, 20.0, Bought(0.25, "volume", (0.2,)))
    assert made.containers == ((0.2, 5),)
    assert made.left_over == pytest.approx(0.0, abs=1e-9)
