import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from hydraulics.commissioning.filling import filling, strength_from_density
from hydraulics.errors import InputError, RangeError
from hydraulics.fluid.mixture import fluid, mixture
from hydraulics.layout.circuit import Branch, Circuit, Loop, Plant, Run
from hydraulics.layout.contents import array_contents
from hydraulics.layout.legs import BoreholeU, Slinky, Straight
from hydraulics.layout.walk import loops_of
from hydraulics.pipework.pipe import pe_pipe
from hydraulics.split.assembly import assemble

P32, P40, P50, P63 = (pe_pipe(f"PE100 SDR11 {size}") for size in (32, 40, 50, 63))
WATER = fluid(mixture("water", 0.0, "mass"), 10.0)
lengths = st.floats(1.0, 300.0)


def straight(name: str, length: float) -> Loop:
    return Loop(name, P32, (Straight(length),))


def headers(
    arrangement: str, steps: list[float], closing: float, named: int | None = None
) -> Circuit:
    branches = tuple(
        Branch(
            straight(f"B{number}", 50.0),
            header_length=step,
            header_pipe=P40 if number == 1 else None,
            return_header_pipe=P50 if number == named else None,
            runs=(Run(P50, 3.0),) if number == 0 else (),
            count=2 if number == 2 else 1,
        )
        for number, step in enumerate(steps)
    )
    return Circuit(arrangement, branches, P63, closing)  # type: ignore[arg-type]


@pytest.mark.parametrize("arrangement", ["direct_return", "reverse_return"])
@given(
    st.lists(lengths, min_size=1, max_size=5),
    st.floats(1.0, 50.0),
    st.one_of(st.none(), st.integers(0, 4)),
)
def test_contents_are_those_of_the_network_that_is_solved(
    arrangement: str, steps: list[float], closing: float, named: int | None
) -> None:
    closing = closing if arrangement == "reverse_return" else 0.0
    circuit = headers(arrangement, steps, closing, named)
    nested = Circuit("manifold", (Branch(circuit, count=2), Branch(straight("S", 7.0))))
    plant = Plant(runs=(Run(P63, 12.0),))
    network = assemble(nested, plant, (WATER, WATER, WATER))
    area = 0.25 * math.pi * network.bore**2 * network.parallel
    solved = float((area * network.length).sum())
    assert array_contents(nested, plant).volume == pytest.approx(solved, rel=1e-9)  # sums


@given(st.lists(lengths, min_size=2, max_size=6))
def test_contents_of_branches_add_up(loops: list[float]) -> None:
    branches = tuple(Branch(straight(f"L{n}", length)) for n, length in enumerate(loops))
    whole = array_contents(Circuit("manifold", branches)).volume
    alone = sum(array_contents(Circuit("manifold", (branch,))).volume for branch in branches)
    assert whole == pytest.approx(alone, rel=1e-12)


def test_both_u_tubes_of_a_double_u_borehole_count() -> None:
    single, double = (
        array_contents(Circuit("manifold", (Branch(Loop("B", P40, (BoreholeU(100.0, n),))),)))
        for n in (1, 2)
    )
    assert double.volume == pytest.approx(2.0 * single.volume)
    assert double.length_of("loops") == pytest.approx(400.0)


def test_equal_branches_count_each() -> None:
    one = Circuit("manifold", (Branch(straight("T", 80.0)),))
    many = Circuit("manifold", (Branch(straight("T", 80.0), count=7),))
    assert array_contents(many).volume == pytest.approx(7.0 * array_contents(one).volume)
    assert [count for _, _, count in loops_of(many)] == [7]


def test_litres_per_metre_are_the_catalogue_figures() -> None:
    # L/m by bore, as suppliers print them for SDR 11: 32 mm 0.531, 40 mm 0.835 (area by hand).
    held = array_contents(Circuit("manifold", (Branch(straight("T", 100.0)),)))
    assert held.volume * 1e3 == pytest.approx(53.1, abs=0.05)


def test_a_slinky_is_counted_with_its_return() -> None:
    loop = Loop("T", P32, (Slinky(30, 1.0, 1.0),))
    held = array_contents(Circuit("manifold", (Branch(loop),)))
    assert held.length_of("loops") == pytest.approx(30 * (math.pi + 2.0))


def test_negative_plant_volume_is_refused() -> None:
    with pytest.raises(InputError, match="volume"):
        Plant(volume=-1e-3)


@given(
    st.sampled_from(["ethylene_glycol", "propylene_glycol", "ethanol", "potassium_formate"]),
    st.floats(0.05, 0.35),
    st.floats(0.01, 20.0),
    st.floats(2.0, 25.0),
)
def test_masses_poured_add_up_to_the_fluid(
    kind: str, fraction: float, volume: float, temperature: float
) -> None:
    mix = mixture(kind, fraction, "mass")
    poured = filling(mix, volume, temperature)
    assert poured.antifreeze_mass + poured.water_mass == pytest.approx(poured.mass, rel=1e-12)
    assert poured.mass == pytest.approx(fluid(mix, temperature).density * volume, rel=1e-12)
    assert poured.antifreeze_mass / poured.mass == pytest.approx(fraction, rel=1e-9)


def test_litres_poured_have_the_volume_fraction_asked_for() -> None:
    poured = filling(mixture("propylene_glycol", 0.25, "volume"), 0.3, 12.0)
    assert poured.antifreeze_volume is not None
    both = poured.antifreeze_volume + poured.water_volume
    assert poured.antifreeze_volume / both == pytest.approx(0.25, rel=1e-9)
    # Glycol and water shrink on mixing, by less than 3 %.
    assert 0.3 < both < 0.3 * 1.03


def test_a_salt_is_weighed_not_measured() -> None:
    poured = filling(mixture("potassium_formate", 0.25, "mass"), 0.3, 12.0)
    assert poured.antifreeze_volume is None
    assert poured.antifreeze_mass == pytest.approx(0.25 * poured.mass)


def test_plain_water_takes_no_antifreeze() -> None:
    assert filling(mixture("water", 0.0, "mass"), 1.0, 10.0).antifreeze_mass == 0.0


@given(
    st.sampled_from(
        ["ethylene_glycol", "propylene_glycol", "methanol", "ethanol", "calcium_chloride"]
    ),
    st.floats(0.02, 0.29),
    st.floats(5.0, 20.0),
)
def test_a_hydrometer_gives_back_the_strength(
    kind: str, fraction: float, temperature: float
) -> None:
    density = fluid(mixture(kind, fraction, "mass"), temperature).density
    found = strength_from_density(kind, density, temperature)
    assert found.mass_fraction == pytest.approx(fraction, abs=1e-6)  # the root's tolerance


def test_a_density_of_no_strength_is_refused_with_the_range() -> None:
    with pytest.raises(RangeError, match="no strength of ethylene_glycol"):
        strength_from_density("ethylene_glycol", 800.0, 15.0)


def test_water_has_no_strength_to_find() -> None:
    with pytest.raises(RangeError):
        strength_from_density("water", 999.0, 15.0)


@pytest.mark.parametrize("bad", [math.nan, math.inf, -1.0])
def test_a_volume_that_is_no_volume_is_refused(bad: float) -> None:
    with pytest.raises(InputError, match="volume"):
        filling(mixture("water", 0.0, "mass"), bad, 10.0)
