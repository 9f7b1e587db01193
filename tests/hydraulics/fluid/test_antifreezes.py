"""What the antifreeze module promises: bases, ranges, clear refusals, safe concurrency."""

import math
import time
from concurrent.futures import ThreadPoolExecutor
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hydraulics.errors import Fault, InputError, RangeError
from hydraulics.fluid.antifreezes import HAZARDS, KINDS, PURE_DENSITY, Basis
from hydraulics.fluid.mixture import fluid, freezing_margin, freezing_point, mixture

MIXED = [kind for kind in KINDS if kind != "water"]
BY_VOLUME = [kind for kind in MIXED if KINDS[kind].by_volume]
SALTS = [kind for kind in MIXED if not KINDS[kind].by_volume]

kinds = st.sampled_from(MIXED)
shares = st.floats(0.0, 1.0)


def the_fault(error: pytest.ExceptionInfo[InputError]) -> Fault:
    assert len(error.value.faults) == 1
    return error.value.faults[0]


def test_the_ten_kinds_are_on_offer_with_their_hazards() -> None:
    assert set(SALTS) == {
        "potassium_carbonate",
        "potassium_formate",
        "potassium_acetate",
        "calcium_chloride",
    }
    assert len(KINDS) == 10
    assert KINDS["ethylene_glycol"].hazards == ("toxic",)
    assert set(KINDS["methanol"].hazards) == {"toxic", "flammable"}
    assert "flammable" in KINDS["ethanol"].hazards
    assert set(KINDS["potassium_carbonate"].hazards) == {"irritant", "corrosive"}
    for kind in ("calcium_chloride", "potassium_formate", "potassium_acetate"):
        assert "corrosive" in KINDS[kind].hazards
    for each in KINDS.values():
        assert set(each.hazards) <= set(HAZARDS)
        assert "groundwater authority" in each.caution
        assert "local codes" in each.caution
    assert "safety data sheet" in KINDS["methanol"].caution
    assert "2.6 %" in KINDS["propylene_glycol"].source


@pytest.mark.parametrize("kind", MIXED)
def test_ranges_are_those_of_the_library(kind: str) -> None:
    from CoolProp import CoolProp

    each = KINDS[kind]
    state = CoolProp.AbstractState("INCOMP", str(each.coolprop_id))
    assert each.max_mass_fraction == state.trivial_keyed_output(CoolProp.ifraction_max)
    assert each.max_temperature_c == pytest.approx(state.Tmax() - 273.15, abs=1e-6)
    # The nominal minimum of the library is no use; the strongest mixture's freezing point is.
    strongest = mixture(kind, each.max_mass_fraction, "mass")
    assert each.min_temperature_c == pytest.approx(freezing_point(strongest), abs=1e-6)
    assert each.min_temperature_c > state.Tmin() - 273.15


@pytest.mark.parametrize("kind", MIXED)
def test_more_antifreeze_always_freezes_lower(kind: str) -> None:
    top = KINDS[kind].max_mass_fraction
    points = [freezing_point(mixture(kind, top * i / 500, "mass")) for i in range(501)]
    assert all(later < earlier for earlier, later in pairwise(points))
    assert points[0] == pytest.approx(0.0, abs=0.06)  # the fits' error at zero strength


@given(st.sampled_from(BY_VOLUME), shares)
def test_volume_and_mass_convert_there_and_back(kind: str, share: float) -> None:
    by_mass = mixture(kind, share * KINDS[kind].max_mass_fraction, "mass")
    assert by_mass.volume_fraction is not None
    again = mixture(kind, by_mass.volume_fraction, "volume")
    assert again.mass_fraction == pytest.approx(by_mass.mass_fraction, abs=1e-12)
    assert again.volume_fraction == pytest.approx(by_mass.volume_fraction, abs=1e-12)


@pytest.mark.parametrize("kind", BY_VOLUME)
def test_the_ends_of_the_stated_volume_range_are_accepted(kind: str) -> None:
    with pytest.raises(RangeError) as error:
        mixture(kind, 0.999, "volume")
    allowed = the_fault(error).allowed
    high = float(allowed.split(" to ")[1].split(" ")[0])
    assert allowed.endswith("% by volume")
    assert mixture(kind, high / 100, "volume").mass_fraction <= KINDS[kind].max_mass_fraction
    with pytest.raises(RangeError):
        mixture(kind, (high + 0.11) / 100, "volume")


@given(kinds, shares, shares)
def test_every_state_in_range_is_physical(kind: str, strength: float, warmth: float) -> None:
    mix = mixture(kind, strength * KINDS[kind].max_mass_fraction, "mass")
    low, high = freezing_point(mix) + 1e-6, KINDS[kind].max_temperature_c
    found = fluid(mix, min(low + warmth * (high - low), high))
    assert 850 < found.density < 1450
    assert 2e-4 < found.viscosity < 10
    assert 2000 < found.specific_heat < 4500  # some ethanol mixtures hold more heat than water
    assert 0.25 < found.conductivity < 0.7
    assert found.prandtl == pytest.approx(
        found.viscosity * found.specific_heat / found.conductivity, rel=1e-12
    )
    assert found.freezing_point_c == freezing_point(mix)


@given(kinds, st.floats(0.05, 1.0), st.floats(0.0, 0.9))
def test_colder_fluid_is_always_more_viscous(kind: str, strength: float, warmth: float) -> None:
    mix = mixture(kind, strength * KINDS[kind].max_mass_fraction, "mass")
    low, high = freezing_point(mix) + 1e-3, KINDS[kind].max_temperature_c
    cold = low + warmth * (high - low)
    assert fluid(mix, cold).viscosity > fluid(mix, cold + 0.05 * (high - low)).viscosity


def test_a_misspelt_kind_names_the_nearest() -> None:
    with pytest.raises(InputError) as error:
        mixture("propylen_glycol", 0.25, "mass")
    fault = the_fault(error)
    assert fault.field == "kind"
    assert "propylene_glycol" in fault.message
    assert fault.value == "propylen_glycol"


@pytest.mark.parametrize("kind", SALTS)
def test_a_salt_by_volume_is_refused(kind: str) -> None:
    assert mixture(kind, 0.2, "mass").volume_fraction is None
    with pytest.raises(InputError) as error:
        mixture(kind, 0.2, "volume")
    assert the_fault(error).field == "basis"
    assert the_fault(error).allowed == "mass"


def test_an_unknown_basis_is_refused() -> None:
    with pytest.raises(InputError) as error:
        mixture("ethanol", 0.2, "weight")  # type: ignore[arg-type]
    assert the_fault(error).field == "basis"


@pytest.mark.parametrize("fraction", [-0.01, 0.61, 25.0, -1e300])
def test_a_strength_outside_the_correlation_says_the_range(fraction: float) -> None:
    with pytest.raises(RangeError) as error:
        mixture("propylene_glycol", fraction, "mass")
    fault = the_fault(error)
    assert fault.field == "fraction"
    assert fault.allowed == "0 to 60 % by mass"


@pytest.mark.parametrize("bad", [math.nan, math.inf, -math.inf])
def test_numbers_that_are_not_finite_are_refused(bad: float) -> None:
    mix = mixture("ethanol", 0.25, "mass")
    for attempt in (
        lambda: mixture("ethanol", bad, "mass"),
        lambda: mixture("ethanol", bad, "volume"),
        lambda: fluid(mix, bad),
        lambda: freezing_margin(mix, bad),
    ):
        with pytest.raises(InputError, match="finite"):
            attempt()


@pytest.mark.parametrize("kind", MIXED)
@pytest.mark.parametrize("below", [0.0, 0.001, 5.0, 500.0])
def test_at_or_below_freezing_is_refused_with_the_range(kind: str, below: float) -> None:
    mix = mixture(kind, 0.2, "mass")
    with pytest.raises(RangeError, match="freezing point") as error:
        fluid(mix, freezing_point(mix) - below)
    assert the_fault(error).field == "temperature"
    assert "°C" in the_fault(error).allowed


@pytest.mark.parametrize("kind", list(KINDS))
def test_the_warmest_temperature_is_accepted_and_no_more(kind: str) -> None:
    mix = mixture(kind, 0.0, "mass")
    limit = KINDS[kind].max_temperature_c
    fluid(mix, limit - 1e-6)
    with pytest.raises(RangeError, match="above the range"):
        fluid(mix, limit + 0.001)


def test_plain_water_takes_no_antifreeze_and_freezes_at_0() -> None:
    water = mixture("water", 0.0, "volume")
    assert freezing_point(water) == 0.0
    assert fluid(water, 0.001).density == pytest.approx(999.9, abs=0.1)
    with pytest.raises(RangeError, match="freezing point"):
        fluid(water, 0.0)
    with pytest.raises(RangeError, match="takes no antifreeze"):
        mixture("water", 0.25, "mass")


def test_margin_is_temperature_above_freezing() -> None:
    mix = mixture("propylene_glycol", 0.25, "mass")
    assert freezing_margin(mix, -5.0) == pytest.approx(-5.0 - freezing_point(mix))
    assert freezing_margin(mix, -15.0) < 0


def test_threads_do_not_disturb_each_other() -> None:
    from CoolProp import CoolProp

    # Each thread asks for its own mixtures at temperatures nobody has asked for yet, so that the
    # library's mutable state is really used and not the cache.
    cases = [
        (kind, 0.1 + 0.0001 * i, 1.0 + 0.01 * i + 1e-4 * n)
        for i in range(200)
        for n, kind in enumerate(MIXED)
    ]
    with ThreadPoolExecutor(8) as pool:
        found = list(pool.map(lambda c: fluid(mixture(c[0], c[1], "mass"), c[2]), cases))
    for (kind, fraction, temperature), each in zip(cases, found, strict=True):
        state = CoolProp.AbstractState("INCOMP", str(KINDS[kind].coolprop_id))
        state.set_mass_fractions([fraction])
        state.update(CoolProp.PT_INPUTS, 2e5, temperature + 273.15)
        assert each.viscosity == state.viscosity()
        assert each.density == state.rhomass()


def test_a_state_costs_far_less_than_a_millisecond() -> None:
    mix = mixture("propylene_glycol", 0.2345, "mass")
    temperatures = [1.0 + 0.001 * i for i in range(500)]
    start = time.perf_counter()
    for temperature in temperatures:
        fluid(mix, temperature)
    # 3 us measured; the bound of 200 us each leaves room for a busy machine.
    assert time.perf_counter() - start < 500 * 200e-6


@pytest.mark.parametrize(
    ("kind", "percent", "basis", "allowed"),
    [
        ("propylene_glycol", 60.0, "mass", "0 to 60 % by mass"),
        # 60 % by mass of 1036 kg/m3 glycol (CRC Handbook, from memory) in water of 998.2 kg/m3 is
        # 59.1 %, told rounded inwards.
        ("propylene_glycol", 59.0, "volume", "0 to 59 % by volume"),
        ("calcium_chloride", 30.0, "mass", "0 to 30 % by mass"),
    ],
)
def test_the_strongest_mixture_is_taken_and_a_stronger_one_refused_in_per_cent(
    kind: str, percent: float, basis: Basis, allowed: str
) -> None:
    mixture(kind, percent / 100.0, basis)
    for wrong in (percent + 0.2, -0.1):
        with pytest.raises(RangeError) as error:
            mixture(kind, wrong / 100.0, basis)
        fault = the_fault(error)
        assert fault.value == pytest.approx(wrong)
        assert fault.allowed == allowed
        assert f"{wrong:g} % by {basis} of {kind} is outside" in fault.message
        assert allowed in fault.message


def test_a_fluid_that_freezes_or_boils_is_told_between_which_temperatures_it_holds() -> None:
    # CoolProp's fit: 25 % propylene glycol by mass freezes at -9.82 °C or so; told to 0.01 K and
    # rounded so that what is told is taken: up from freezing, down from the warmest.
    mix = mixture("propylene_glycol", 0.25, "mass")
    point = freezing_point(mix)
    with pytest.raises(RangeError) as error:
        fluid(mix, point - 1.0)
    fault = the_fault(error)
    low = float(fault.allowed.removeprefix("above ").split(" °C")[0])
    assert 0.0 <= low - point < 0.01
    assert f"25 % by mass propylene_glycol is at or below its freezing point of {low:g} °C" in (
        fault.message
    )
    high = KINDS["propylene_glycol"].max_temperature_c
    assert fault.allowed.endswith(f", up to {high:g} °C")
    with pytest.raises(RangeError) as error:
        fluid(mix, high + 1.0)
    assert f"{high + 1:g} °C is above the range of the correlation of 25 % by mass" in (
        the_fault(error).message
    )
    # Water boils at 120.2 °C at 2 bar (steam tables), told downwards to 0.01 K.
    with pytest.raises(RangeError) as error:
        fluid(mixture("water", 0.0, "mass"), 121.0)
    boils = float(the_fault(error).allowed.split("up to ")[1].split(" ")[0])
    assert boils == pytest.approx(120.2, abs=0.03)
    assert 0.0 <= KINDS["water"].max_temperature_c - boils < 0.01
    assert "121 °C is above the range of the correlation of water:" in the_fault(error).message


def test_a_kind_like_none_is_told_all_of_them() -> None:
    with pytest.raises(InputError) as error:
        mixture("zzzz", 0.25, "mass")
    fault = the_fault(error)
    assert "choose one of those allowed" in fault.message
    assert fault.allowed == "one of " + ", ".join(KINDS)


# CRC Handbook of Chemistry and Physics, density at 20 °C in g/cm3 (from memory); handbooks differ
# by 0.4 kg/m3 in methanol.
@pytest.mark.parametrize(
    ("kind", "density"),
    [
        ("water", 0.9982), ("methanol", 0.7914), ("ethanol", 0.7893),
        ("propylene_glycol", 1.0361), ("ethylene_glycol", 1.1135), ("glycerol", 1.2613),
    ],
)  # fmt: skip
def test_pure_liquids_have_the_printed_density(kind: str, density: float) -> None:
    assert PURE_DENSITY[kind] == pytest.approx(1e3 * density, abs=0.5)


@pytest.mark.parametrize("kind", BY_VOLUME)
def test_a_fifth_by_volume_has_the_mass_of_its_density(kind: str) -> None:
    pure, water = PURE_DENSITY[kind], PURE_DENSITY["water"]
    mass = mixture(kind, 0.2, "volume").mass_fraction
    # A litre before mixing: 200 mL of the one and 800 mL of the other.
    assert mass / (1.0 - mass) == pytest.approx(0.2 * pure / (0.8 * water), rel=1e-12)


def test_what_freezes_as_water_does_is_told_what_is_amiss() -> None:
    for mix, told, others in (
        (mixture("water", 0.0, "mass"), "name an antifreeze", "stronger"),
        (mixture("ethanol", 0.0025, "mass"), "a quarter is 25, not 0.25", "name an"),
        (mixture("ethanol", 0.02, "mass"), "use a stronger mixture", "a quarter"),
    ):
        with pytest.raises(RangeError) as error:
            fluid(mix, -3.0)
        assert told in the_fault(error).message
        assert others not in the_fault(error).message
