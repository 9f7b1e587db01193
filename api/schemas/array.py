"""The array in a request: pipes, fittings, legs, runs, branches and circuits."""

from __future__ import annotations

from typing import Any, Final

from api.refusals import BROKEN, Json, Place, Refusal
from api.schemas.fields import Checked, Choice, Flag, Integer, Number, Refusals, Text
from api.schemas.objects import Alternatives, ListOf, Nested, StrictSchema, schema_of
from hydraulics.layout.circuit import ARRANGEMENTS
from hydraulics.pipework.fittings import FITTING_KINDS

LONGEST: Final = 10_000.0  # m; no single length of a ground array comes near
MOST_LOOPS: Final = 1_000_000
_MOST_ITEMS: Final = 1_000
_MOST_BRANCHES: Final = 100_000


def said(description: str, *examples: Json) -> dict[str, Any]:
    """Describe a field, with examples where they help."""
    return {"description": description, **({"examples": list(examples)} if examples else {})}


class PipeSchema(StrictSchema):
    """A pipe by its bore, for what is not among the standard pipes."""

    bore_mm = Number(
        required=True, minimum=0.1, maximum=1_000, metadata=said("Inside diameter.", 26.2)
    )
    outside_diameter_mm = Number(
        required=True, minimum=0.1, maximum=1_200, metadata=said("Outside diameter.", 32)
    )
    roughness_mm = Number(
        minimum=0,
        maximum=50,
        metadata=said("Roughness of the inside; left out, that of new plastic pipe.", 0.0015),
    )
    name = Text(metadata=said("What to call it.", "32 x 2.9"))


class PipeField(Checked):
    """A standard pipe by its name, or a pipe by its bore."""

    def check(self, value: Json, place: Place, refusals: Refusals) -> Json:
        """Accept a name or an object; whether the name is known is for the engine to say."""
        if type(value) is str:
            if 0 < len(value) <= 80:
                return value
        elif type(value) is dict:
            return schema_of(PipeSchema).check(value, place, refusals)
        allowed = "a name such as 'PE100 SDR11 32', or an object with bore_mm"
        detail = f"{self.name} must be {allowed}."
        refusals.append(Refusal(place, detail, value, allowed))
        return BROKEN


def _fittings_count() -> Integer:
    return Integer(
        minimum=1, maximum=100_000, load_default=1, metadata=said("How many, in series.")
    )


class FittingKindSchema(StrictSchema):
    """Fittings by their kind, as GET /v1/fittings lists them; loss by the three-constant method."""

    kind = Choice(FITTING_KINDS, required=True, metadata=said("Kind of fitting."))
    count = _fittings_count()


class FittingCoefficientSchema(StrictSchema):
    """Fittings by their loss coefficient, on the velocity in the pipe's bore."""

    loss_coefficient = Number(
        required=True, minimum=0, maximum=100_000, metadata=said("K in Δp = K ρ v²/2.", 1.5)
    )
    count = _fittings_count()


class FittingKvSchema(StrictSchema):
    """Fittings by their Kv (EN 60534)."""

    kv_m3_h = Number(
        required=True,
        minimum=0.001,
        maximum=100_000,
        metadata=said("Flow of water at a drop of 1 bar.", 4.8),
    )
    count = _fittings_count()


def fittings_of(description: str) -> ListOf:
    """Declare a list of fittings."""
    return ListOf(
        Alternatives(
            {
                "kind": FittingKindSchema,
                "loss_coefficient": FittingCoefficientSchema,
                "kv_m3_h": FittingKvSchema,
            },
            what="a fitting",
            why="A fitting's loss is given once: by kind, by coefficient or by Kv.",
        ),
        longest=_MOST_ITEMS,
        metadata=said(description),
    )


class LegSchema(StrictSchema):
    """What every leg may name."""

    pipe = PipeField(metadata=said("Pipe of this leg where it differs from the loop's."))
    fittings = fittings_of("Fittings in this leg's pipe.")


class StraightLegSchema(LegSchema):
    """Straight pipe."""

    straight_m = Number(
        required=True, minimum=0, maximum=LONGEST, metadata=said("Length of pipe.", 25)
    )


class SlinkyLegSchema(LegSchema):
    """Coils spread along a trench, and the straight pipe that returns beside them.

    Each coil takes π D + p of pipe, the return p more.
    """

    coils = Integer(required=True, minimum=1, maximum=10_000, metadata=said("How many.", 30))
    coil_diameter_m = Number(
        required=True,
        minimum=0.001,
        maximum=100,
        metadata=said("Diameter of a coil, pipe centre to pipe centre.", 1.0),
    )
    pitch_m = Number(
        required=True,
        minimum=0.001,
        maximum=100,
        metadata=said("Distance from one coil to the next along the trench.", 1.0),
    )
    returns_alongside = Flag(
        load_default=True,
        metadata=said(
            "Whether the pipe comes straight back in the same trench; false where the trench runs "
            "in a ring or the return is a leg of its own."
        ),
    )


class CoiledLegSchema(LegSchema):
    """Pipe left in coils of one diameter, such as a spare tail."""

    coiled_m = Number(
        required=True, minimum=0, maximum=LONGEST, metadata=said("Length of pipe.", 20)
    )
    coil_diameter_m = Number(
        required=True, minimum=0.001, maximum=100, metadata=said("Diameter of the coil.", 0.8)
    )


class TrenchLegSchema(LegSchema):
    """Straight pipe laid up and down one trench."""

    trench_m = Number(
        required=True, minimum=0.001, maximum=LONGEST, metadata=said("Length of the trench.", 60)
    )
    passes = Integer(
        required=True,
        minimum=1,
        maximum=1_000,
        metadata=said("Runs of pipe side by side, one after the other in flow.", 4),
    )
    turn_diameter_m = Number(
        minimum=0.001,
        maximum=100,
        metadata=said(
            "Diameter of the half-turns between passes; left out where fittings make them.", 0.5
        ),
    )


class MatLegSchema(LegSchema):
    """A flat spiral of pipe tied to a mat, as sunk in a pond."""

    mat_inner_diameter_m = Number(
        required=True, minimum=0.001, maximum=100, metadata=said("Diameter of the first turn.", 0.8)
    )
    mat_outer_diameter_m = Number(
        required=True, minimum=0.001, maximum=100, metadata=said("Diameter of the last turn.", 3.0)
    )
    mat_spacing_m = Number(
        required=True, minimum=0.001, maximum=10, metadata=said("Pipe centre to pipe centre.", 0.05)
    )
    mats = Integer(
        minimum=1,
        maximum=1_000,
        load_default=1,
        metadata=said("Equal mats, one after the other in flow."),
    )


class BoreholeLegSchema(LegSchema):
    """One or two U-tubes in a borehole."""

    borehole_depth_m = Number(
        required=True,
        minimum=0.001,
        maximum=1_000,
        metadata=said("Depth of the U-tube's foot; the pipe goes down and up.", 100),
    )
    u_tubes = Integer(
        minimum=1,
        maximum=2,
        load_default=1,
        metadata=said("1, or 2 in parallel, each with half the flow."),
    )


class RunSchema(StrictSchema):
    """A route of a flow pipe and a return pipe, side by side."""

    pipe = PipeField(required=True, metadata=said("Pipe of both.", "PE100 SDR11 50"))
    length_m = Number(
        required=True,
        minimum=0,
        maximum=LONGEST,
        metadata=said("Length of the route, one way; the pipe is laid twice, out and back.", 24),
    )
    fittings = fittings_of("Fittings on the route, out and back together.")


def runs_of(description: str) -> ListOf:
    """Declare a list of runs."""
    return ListOf(Nested(lambda: RunSchema), longest=_MOST_ITEMS, metadata=said(description))


class BranchSchema(StrictSchema):
    """What every branch of a circuit may name, whether a loop or a circuit hangs on it."""

    header_m = Number(
        minimum=0,
        maximum=LONGEST,
        load_default=0.0,
        metadata=said(
            "Distance along the header from the branch before; the first from the circuit's start."
        ),
    )
    header_pipe = PipeField(
        metadata=said("Flow header from here on, where it steps to another size.")
    )
    return_header_pipe = PipeField(
        metadata=said("Return header of the stretch beside this one, where it is not as implied.")
    )
    runs = runs_of("Routes from the header or port to the loop or circuit.")
    fittings = fittings_of(
        "Ports, valves and other fittings of this branch. Kinds and coefficients refer to the "
        "loop's pipe, or, where a circuit hangs here, to the pipe of the first run."
    )
    count = Integer(
        minimum=1,
        maximum=MOST_LOOPS,
        load_default=1,
        metadata=said("Equal branches one after the other, each header_m from the one before."),
    )


class LoopBranchSchema(BranchSchema):
    """A branch with a loop on it."""

    loop = Text(required=True, metadata=said("The loop's name, unlike any other's.", "T1"))
    pipe = PipeField(
        required=True,
        metadata=said("Pipe of every leg that names none.", "PE100 SDR11 32"),
    )
    legs = ListOf(
        Alternatives(
            {
                "straight_m": StraightLegSchema,
                "coils": SlinkyLegSchema,
                "coiled_m": CoiledLegSchema,
                "trench_m": TrenchLegSchema,
                "mat_inner_diameter_m": MatLegSchema,
                "borehole_depth_m": BoreholeLegSchema,
            },
            what="a leg",
            why="A leg is one kind of pipe run; give several legs for several.",
        ),
        required=True,
        shortest=1,
        longest=_MOST_ITEMS,
        metadata=said("What the loop is made of, in the order of flow."),
    )


class CircuitBranchSchema(BranchSchema):
    """A branch with another circuit on it: a sub-manifold or a chamber."""

    circuit = Nested(
        lambda: CircuitSchema, required=True, metadata=said("The circuit that hangs here.")
    )


class CircuitSchema(StrictSchema):
    """Branches in parallel between one flow and one return connection."""

    name = Text(metadata=said("What to call it; it goes before the names of its loops."))
    arrangement = Choice(
        ARRANGEMENTS,
        required=True,
        metadata=said(
            "manifold: every branch on its own port, no header between them. direct_return: the "
            "first branch out is the first back. reverse_return: the first out is the last back."
        ),
    )
    header_pipe = PipeField(metadata=said("Pipe of the headers; not in a manifold."))
    closing_m = Number(
        minimum=0,
        maximum=LONGEST,
        load_default=0.0,
        metadata=said(
            "Return header from the last branch back to the start, in reverse return only."
        ),
    )
    branches = ListOf(
        Alternatives(
            {"loop": LoopBranchSchema, "circuit": CircuitBranchSchema},
            what="a branch",
            why="One loop or one circuit hangs on a branch.",
        ),
        required=True,
        shortest=1,
        longest=_MOST_BRANCHES,
        metadata=said("Branches in order along the flow header."),
    )
