"""What is buried, in a request: pipes, fittings, legs, loops, routes, branches and circuits."""

from __future__ import annotations

from typing import Final

from api.refusals import BROKEN, Json, Place, Refusal
from api.schemas.fields import Choice, Flag, Integer, Number, Refusals, Text, said
from api.schemas.objects import ListOf, Nested, StrictSchema
from hydraulics.layout.circuit import ARRANGEMENTS
from hydraulics.pipework.fittings import FITTING_KINDS
from hydraulics.pipework.pipe import pipe_names

LONGEST: Final = 10_000.0  # m; no single length of a ground array comes near
MOST_LOOPS: Final = 1_000_000
MOST_PIPES: Final = 1_000
_MOST_ITEMS: Final = 1_000
_MOST_BRANCHES: Final = 100_000
_OWN_PIPE: Final = '{"name": "probe 40", "bore_mm": 32.6, "outside_diameter_mm": 40}'


class PipeName(Text):
    """A pipe by its name: a standard pipe's, or that of one of the job's own `pipes`."""

    _standard: Final = frozenset(pipe_names())

    def check(self, value: Json, place: Place, refusals: Refusals) -> Json:
        """Accept a name; whether there is such a pipe is for the whole job to say."""
        if type(value) is str and value in self._standard:
            return value
        if type(value) is dict:
            detail = (
                f"{self.name} must be the name of a pipe. Describe a pipe of your own once, in the "
                f"job's pipes, as {_OWN_PIPE}, and give its name here."
            )
            refusals.append(Refusal(place, detail, value, "a name such as 'PE100 SDR11 32'"))
            return BROKEN
        return super().check(value, place, refusals)

    @property
    def allowed(self) -> str:
        """Where names come from."""
        return "a standard pipe's name, as GET /v1/pipes lists them, or that of one of the pipes"


class PipeSchema(StrictSchema):
    """A pipe that can be had: a standard one with its coils, or one of your own by its bore."""

    what = "a pipe"
    why = "A pipe of your own needs both diameters; a standard one needs neither."
    together = (("bore_mm", "outside_diameter_mm"),)
    goes_with = {"roughness_mm": ("bore_mm",)}  # noqa: RUF012 (declared once, never changed)

    name = Text(
        required=True,
        metadata=said("Name that loops and routes call it by; a standard pipe's own.", "probe 40"),
    )
    bore_mm = Number(minimum=0.1, maximum=1_000, metadata=said("Inside diameter.", 32.6))
    outside_diameter_mm = Number(minimum=0.1, maximum=1_200, metadata=said("Outside diameter.", 40))
    roughness_mm = Number(
        minimum=0,
        maximum=50,
        metadata=said("Roughness of the inside; left out, that of new plastic pipe.", 0.0015),
    )
    coils_m = ListOf(
        Number(minimum=1, maximum=LONGEST),
        shortest=1,
        longest=100,
        metadata=said(
            "Lengths of coil that it can be had in; left out, 50, 100, 150, 200 and 300 m (common "
            "practice, no source).",
            [100, 150, 200],
        ),
    )


class FittingSchema(StrictSchema):
    """Equal fittings, by one of their kind, their loss coefficient or their Kv."""

    one_of = ("kind", "loss_coefficient", "kv_m3_h")
    goes_with = {"valve": ("kv_m3_h",), "position": ("kv_m3_h",)}  # noqa: RUF012
    what = "a fitting"
    why = "A fitting's loss is given once: by kind, by coefficient or by Kv."

    kind = Choice(
        FITTING_KINDS,
        component="FittingKind",
        metadata=said(
            "Kind of fitting, as GET /v1/fittings lists them; loss by the three-constant method.",
            "elbow_90",
        ),
    )
    loss_coefficient = Number(
        minimum=0,
        maximum=100_000,
        engine="coefficient",
        metadata=said("K in Δp = K ρ v²/2, v in the pipe's bore.", 1.5),
    )
    kv_m3_h = Number(
        minimum=0.001,
        maximum=100_000,
        metadata=said("Kv (EN 60534): flow of water at a drop of 1 bar.", 4.8),
    )
    count = Integer(
        minimum=1, maximum=100_000, load_default=1, metadata=said("How many, in series.")
    )
    valve = Text(metadata=said("With kv_m3_h, a note: the valve that was set.", "DN 25 (invented)"))
    position = Number(
        minimum=-1_000,
        maximum=1_000_000,
        metadata=said("With kv_m3_h, a note: what its handwheel shows.", 2.5),
    )


def fittings_of(description: str) -> ListOf:
    """Declare a list of fittings."""
    return ListOf(Nested(lambda: FittingSchema), longest=_MOST_ITEMS, metadata=said(description))


# ------------------------------------------------------------------------------------------- legs


class StraightLegSchema(StrictSchema):
    """Straight pipe."""

    length_m = Number(
        required=True, minimum=0, maximum=LONGEST, metadata=said("Length of pipe.", 25)
    )


class SlinkyLegSchema(StrictSchema):
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
    upright = Flag(
        load_default=False,
        metadata=said("For the digging: whether the coils stand; false for laid flat."),
    )
    depth_m = Number(
        minimum=0.01, maximum=50, metadata=said("For the digging: of the coils' centres.", 1.2)
    )


class CoiledLegSchema(StrictSchema):
    """Pipe left in coils of one diameter, such as a spare tail."""

    length_m = Number(
        required=True, minimum=0, maximum=LONGEST, metadata=said("Length of pipe.", 20)
    )
    coil_diameter_m = Number(
        required=True, minimum=0.001, maximum=100, metadata=said("Diameter of the coil.", 0.8)
    )


class TrenchLegSchema(StrictSchema):
    """Straight pipe laid up and down one trench."""

    length_m = Number(
        required=True,
        minimum=0.001,
        maximum=LONGEST,
        engine="trench_length",
        metadata=said("Length of the trench.", 60),
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
    spacing_m = Number(
        minimum=0.001,
        maximum=100,
        metadata=said("For the digging: between passes, centre to centre.", 0.4),
    )
    depth_m = Number(minimum=0.01, maximum=50, metadata=said("For the digging: of the pipes.", 1.2))


class PondMatLegSchema(StrictSchema):
    """A flat spiral of pipe tied to a mat, as sunk in a pond."""

    inner_diameter_m = Number(
        required=True, minimum=0.001, maximum=100, metadata=said("Diameter of the first turn.", 0.8)
    )
    outer_diameter_m = Number(
        required=True, minimum=0.001, maximum=100, metadata=said("Diameter of the last turn.", 3.0)
    )
    spacing_m = Number(
        required=True, minimum=0.001, maximum=10, metadata=said("Pipe centre to pipe centre.", 0.05)
    )
    count = Integer(
        minimum=1,
        maximum=1_000,
        load_default=1,
        engine="mats",
        metadata=said("Equal mats, one after the other in flow."),
    )


class BoreholeLegSchema(StrictSchema):
    """One or two U-tubes in a borehole."""

    depth_m = Number(
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
    diameter_mm = Number(
        minimum=10,
        maximum=2_000,
        metadata=said("For the drilling: diameter of the borehole.", 150),
    )


class LegSchema(StrictSchema):
    """A part of a loop: exactly one kind of pipe run, and the fittings in it."""

    one_of = ("straight", "slinky", "coiled", "trench", "pond_mat", "borehole")
    what = "a leg"
    why = (
        "A leg is one kind of pipe run, and its measures stand in an object named by the kind: "
        '{"straight": {"length_m": 25}}. Give several legs for several.'
    )

    straight = Nested(lambda: StraightLegSchema, metadata=said("Straight pipe."))
    slinky = Nested(lambda: SlinkyLegSchema, metadata=said("Coils along a trench."))
    coiled = Nested(lambda: CoiledLegSchema, metadata=said("Pipe left in coils."))
    trench = Nested(lambda: TrenchLegSchema, metadata=said("Passes along a trench."))
    pond_mat = Nested(lambda: PondMatLegSchema, metadata=said("Spiral mats in water."))
    borehole = Nested(lambda: BoreholeLegSchema, metadata=said("U-tubes in a borehole."))
    pipe = PipeName(metadata=said("Pipe of this leg where it differs from the loop's."))
    fittings = fittings_of("Fittings in this leg's pipe; in each U-tube of a double U.")


# --------------------------------------------------------------------------- loops and circuits


class RunSchema(StrictSchema):
    """A route of a flow pipe and a return pipe, side by side."""

    pipe = PipeName(
        required=True, metadata=said("Pipe of the way out and of the way back.", "PE100 SDR11 50")
    )
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


class LoopSchema(StrictSchema):
    """A run of buried pipe from a flow port to a return port."""

    name = Text(required=True, metadata=said("The loop's name, unlike any other's.", "T1"))
    pipe = PipeName(
        required=True, metadata=said("Pipe of every leg that names none.", "PE100 SDR11 32")
    )
    legs = ListOf(
        Nested(lambda: LegSchema),
        required=True,
        shortest=1,
        longest=_MOST_ITEMS,
        metadata=said("What the loop is made of, in the order of flow."),
    )


class BranchSchema(StrictSchema):
    """What hangs on a circuit: exactly one of a loop or another circuit, and the way to it."""

    one_of = ("loop", "circuit")
    what = "a branch"
    why = (
        'One loop or one circuit hangs on a branch: {"loop": {"name": "T1", "pipe": "PE100 SDR11 '
        '32", "legs": [...]}}.'
    )

    loop = Nested(lambda: LoopSchema, engine="item", metadata=said("The loop that hangs here."))
    circuit = Nested(
        lambda: CircuitSchema,
        engine="item",
        metadata=said("The circuit that hangs here: a sub-manifold or a chamber."),
    )
    header_m = Number(
        minimum=0,
        maximum=LONGEST,
        load_default=0.0,
        engine="header_length",
        metadata=said(
            "Distance along the header from the branch before; the first from the circuit's start."
        ),
    )
    header_pipe = PipeName(
        metadata=said("Flow header from here on, where it steps to another size.")
    )
    return_header_pipe = PipeName(
        metadata=said(
            "Return header of the stretch beside this one only, where it is not as implied; with "
            "the first branch of a reverse return, of the closing run."
        )
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
    closed = Flag(
        load_default=False,
        metadata=said(
            "Whether a valve shuts this branch, with all that hangs on it and all its copies: it "
            "is laid and filled, and nothing flows in it. The open loops take the whole flow."
        ),
    )


class CircuitSchema(StrictSchema):
    """Branches in parallel between one flow and one return connection."""

    name = Text(
        metadata=said(
            "What to call it; within another circuit it goes before the names of its loops."
        )
    )
    arrangement = Choice(
        ARRANGEMENTS,
        component="Arrangement",
        required=True,
        metadata=said(
            "How branches hang together. manifold: every branch on its own port, no header "
            "between them. direct_return: the first branch out is the first back. reverse_return: "
            "the first out is the last back."
        ),
    )
    header_pipe = PipeName(metadata=said("Pipe of the headers; not in a manifold."))
    closing_m = Number(
        minimum=0,
        maximum=LONGEST,
        engine="closing_length",
        metadata=said(
            "Return header from the last branch back to the start, in reverse return only; left "
            "out, as long as the header."
        ),
    )
    branches = ListOf(
        Nested(lambda: BranchSchema),
        required=True,
        shortest=1,
        longest=_MOST_BRANCHES,
        metadata=said("Branches in order along the flow header."),
    )
