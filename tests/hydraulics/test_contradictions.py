import pytest

from hydraulics.contradictions import RULES, array_against_sizing, contradiction
from hydraulics.findings import FINDING_CODES, Finding
from hydraulics.layout.circuit import Branch, Circuit, Loop
from hydraulics.layout.legs import Slinky, TrenchPasses
from hydraulics.pipework.pipe import pe_pipe
from hydraulics.sizing.choice import SlinkyArray

P32 = pe_pipe("PE100 SDR11 32")
SIZED_FOR = SlinkyArray(P32, 1.2)


class Sized:
    """What is asked of a sizing here."""

    def __init__(self, needed: float, total: float, loops: int = 4, basis: str = "conduction"):
        self.needed_length, self.total_length, self.loops = needed, total, loops
        self.metre, self.governing_limit, self.basis = "trench", 0.0, basis


def judged(sized: Sized, coils: int = 30, count: int = 4) -> list[Finding]:
    loop = Loop("T", P32, (Slinky(coils, 1.0, 1.0, depth=1.2),))
    circuit = Circuit("manifold", (Branch(loop, count=count),))
    return list(array_against_sizing(circuit, SIZED_FOR, sized, sized, None))  # type: ignore[arg-type]


@pytest.mark.parametrize("rule", RULES)
def test_every_rule_is_a_finding_that_is_listed(rule: str) -> None:
    told = contradiction(rule, "One says this, the other that.")
    assert told.code in FINDING_CODES
    assert told.severity == RULES[rule].severity
    assert told.message.endswith(".")
    # An error or warning says what to do.
    assert bool(RULES[rule].do) is (told.severity != "info")


@pytest.mark.parametrize(
    ("needed", "total", "basis", "told"),
    [
        (120.0, 120.0, "conduction", None),  # 4 x 30 m are laid
        (125.0, 128.0, "conduction", "error"),
        (122.0, 124.0, "conduction", "warning"),  # 1.6 % less: some 0.2 K colder
        (120.5, 121.0, "conduction", None),
        # By a rate that gives less than conduction needs, as the sizing says itself, or more.
        (200.0, 120.0, "extraction_rate", None),
        (200.0, 130.0, "extraction_rate", "error"),
        (60.0, 120.0, "extraction_rate", None),
        (60.0, 240.0, "extraction_rate", "error"),
    ],
)
def test_an_array_is_judged_by_what_its_sizing_decides(
    needed: float, total: float, basis: str, told: str | None
) -> None:
    found = [(each.code, each.severity) for each in judged(Sized(needed, total, basis=basis))]
    assert found == ([] if told is None else [("smaller_than_sized", told)])


def test_a_rate_is_named_where_it_decides() -> None:
    (told,) = judged(Sized(200.0, 130.0, basis="extraction_rate"))
    assert "asks for 130 m by its extraction rate. " in told.message
    (told,) = judged(Sized(60.0, 240.0, basis="extraction_rate"))
    assert "asks for 240 m by its extraction rate, and conduction for 60 m. " in told.message
    (told,) = judged(Sized(130.0, 132.0))
    assert "asks for 130 m to keep the brine from the ground at 0 °C" in told.message


def test_loops_of_other_kinds_are_counted_apart() -> None:
    slinky = Branch(Loop("T", P32, (Slinky(30, 1.0, 1.0, depth=1.2),)), count=3)
    straight = Branch(Loop("S", P32, (TrenchPasses(30.0, 2),)), count=2)
    circuit = Circuit("manifold", (slinky, straight))
    sized, proposed = Sized(120.0, 120.0, loops=3), Sized(120.0, 120.0)
    counts, length = array_against_sizing(circuit, SIZED_FOR, sized, proposed, None)  # type: ignore[arg-type]
    assert "the array has 3 of the kind that is sized, which" in counts.message
    for each in (counts, length):
        assert "Its 2 loops of other kinds are left out: what they draw is not sized." in (
            each.message
        )
    (alone,) = judged(Sized(125.0, 128.0))
    assert "other kinds" not in alone.message


def test_nothing_of_the_kind_is_an_error() -> None:
    circuit = Circuit("manifold", (Branch(Loop("T", P32, (TrenchPasses(30.0, 2),))),))
    sized = Sized(1.0, 1.0)
    (told,) = array_against_sizing(circuit, SIZED_FOR, sized, sized, None)  # type: ignore[arg-type]
    assert (told.code, told.severity) == ("not_as_sized", "error")
