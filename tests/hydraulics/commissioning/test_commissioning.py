import pytest

from hydraulics.commissioning.commissioning import commissioning
from hydraulics.commissioning.plans import (
    Commissioning,
    CommissioningPlan,
    FillingPlan,
    Metered,
    MeterPlan,
    PressureTestPlan,
    PurgePlan,
    Sample,
    VesselPlan,
)
from hydraulics.errors import InputError, RangeError
from hydraulics.layout.circuit import Branch, Circuit, Loop, Plant
from hydraulics.layout.legs import Straight
from hydraulics.pipework.pipe import Pipe, pe_pipe
from hydraulics.split.flow_split import flow_split
from tests.hydraulics.arrays import BRINE, flow, manifold

PLANT = Plant()
ARRAY = manifold([200.0, 190.0])
FILLING = FillingPlan(12.0)
VESSEL = VesselPlan(5e4, -3.0, 25.0, safety_valve=3e5)


def commissioned(
    circuit: Circuit = ARRAY,
    filling: FillingPlan = FILLING,
    plant: Plant = PLANT,
    **plans: object,
) -> Commissioning:
    table = flow_split(circuit, plant, BRINE, flow(0.4)).loops
    meters = [
        Metered(*each)
        for each in zip(table.names, table.places, table.volume_flow.tolist(), strict=True)
    ]
    plan = CommissioningPlan(filling, **plans)  # type: ignore[arg-type]
    return commissioning(meters, circuit, plant, BRINE, plan)


def codes(found: Commissioning) -> set[str]:
    return {finding.code for finding in found.findings}


def test_nothing_is_planned_unasked() -> None:
    found = commissioned()
    planned = (found.purging, found.test, found.vessel, found.sample)
    assert all(part is None for part in planned)
    assert found.meters_proved is None
    assert [check.expected.loop for check in found.meters] == ["L1", "L2"]


def test_spare_mixture_is_made_but_not_held() -> None:
    plain, spare = commissioned(), commissioned(filling=FillingPlan(12.0, spare=0.1))
    assert spare.contents == plain.contents
    assert spare.filling.mass == pytest.approx(1.1 * plain.filling.mass)


def test_the_plants_volume_is_filled_and_expands() -> None:
    small = commissioned(vessel=VESSEL)
    large = commissioned(plant=Plant(volume=0.5), vessel=VESSEL)
    assert large.filling.volume - small.filling.volume == pytest.approx(0.5)
    assert large.vessel is not None
    assert small.vessel is not None
    assert large.vessel.volume > small.vessel.volume


def test_the_test_pressure_is_given_or_follows_from_the_design_pressure() -> None:
    given = commissioned(pressure_test=PressureTestPlan(test_pressure=4.5e5)).test
    follows = commissioned(pressure_test=PressureTestPlan(design_pressure=3.0e5)).test
    assert given is not None
    assert given == follows  # EN 805, 11.3.2: the lower of 1.5 MDPa and MDPa + 5 bar
    assert 0.0 < given.allowable[0] < given.allowable[1]


def test_pipes_of_one_sdr_need_no_sdr_and_pipes_of_several_do() -> None:
    plan = PressureTestPlan("w_400_2", test_pressure=6e5)
    assert commissioned(pressure_test=plan).test is not None
    mixed = Circuit(
        "manifold",
        tuple(
            Branch(Loop(str(n), pe_pipe(name), (Straight(100.0),)))
            for n, name in enumerate(("PE100 SDR11 32", "PE100 SDR17 40"))
        ),
    )
    with pytest.raises(InputError) as caught:
        commissioned(mixed, pressure_test=plan)
    assert [fault.field for fault in caught.value.faults] == ["pressure_test.sdr"]


def test_an_array_that_cannot_be_purged_at_once_is_purged_loop_by_loop() -> None:
    # A hair of a pipe beside a wide one: no flow within reason clears both together.
    wide, hair = Pipe("wide", 0.1, 0.11, 1.5e-6), Pipe("hair", 0.001, 0.002, 1.5e-6)
    circuit = Circuit(
        "manifold",
        (Branch(Loop("W", wide, (Straight(1.0),))), Branch(Loop("H", hair, (Straight(500.0),)))),
    )
    found = commissioned(circuit, purge=PurgePlan())
    assert found.purging is not None
    assert found.purging.whole is None
    assert [duty.name for duty in found.purging.single.loops] == ["W", "H"]
    assert "no_common_purge" in codes(found)


def test_the_record_of_the_meters_proves_the_balance_only_when_complete() -> None:
    expected = {check.expected.loop: check.expected.expected for check in commissioned().meters}
    some = commissioned(flow_meters=MeterPlan(readings=(("L1", expected["L1"]),)))
    every = commissioned(flow_meters=MeterPlan(readings=tuple(expected.items())))
    assert some.meters_proved is False
    assert every.meters_proved is True
    assert all(check.verdict == "within" for check in every.meters)


def test_the_density_of_the_filling_gives_its_own_strength_back() -> None:
    filled = commissioned().filled
    found = commissioned(sample=Sample(filled.density, 12.0)).sample
    assert found is not None
    assert found.mix.mass_fraction == pytest.approx(BRINE.mass_fraction, rel=1e-6)


def test_faults_of_all_sections_come_together_under_their_names() -> None:
    with pytest.raises(InputError) as caught:
        commissioned(
            filling=FillingPlan(-60.0),
            purge=PurgePlan(-1.0),
            pressure_test=PressureTestPlan(test_pressure=-1.0),
            vessel=VesselPlan(5e4, -3.0, 25.0, safety_valve=1e4),
            flow_meters=MeterPlan(accuracy=0.5),
            sample=Sample(-1.0, 10.0),
        )
    assert {fault.field for fault in caught.value.faults} == {
        "filling.temperature_c", "pressure_test.test_pressure",
        "vessel.safety_valve", "flow_meters.accuracy",
        "sample.density",
    }  # fmt: skip


def test_a_filling_that_is_frozen_is_outside_the_range() -> None:
    with pytest.raises(RangeError):
        commissioned(filling=FillingPlan(-60.0))
