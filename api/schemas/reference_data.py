"""Reference data: antifreezes, pipes, fittings, the index and the health check."""

from __future__ import annotations

from api.schemas.fields import Choice, Flag, Number, Text, said
from api.schemas.objects import ListOf, Nested, StrictSchema
from hydraulics.fluid.antifreezes import HAZARDS

_MOST: int = 1_000


class HazardSchema(StrictSchema):
    """A hazard word explained."""

    hazard = Choice(HAZARDS, component="HazardWord", required=True, metadata=said("The word."))
    meaning = Text(required=True, longest=2_000, metadata=said("What it means here."))


class FreezingSpreadSchema(StrictSchema):
    """How far published freezing points of one strength lie above the one in use."""

    mass_percent = Number(required=True, metadata=said("Strength by mass.", 30))
    spread_k = Number(
        required=True, metadata=said("The warmest published, less the one used.", 0.6)
    )


class ViscositySpreadSchema(StrictSchema):
    """How much more viscous published data make a mixture at one temperature."""

    temperature_c = Number(required=True, metadata=said("Temperature.", 0))
    more_viscous_percent = Number(required=True, metadata=said("The highest published.", 2))


class AntifreezeOnOfferSchema(StrictSchema):
    """One kind of antifreeze: range, hazards and source."""

    kind = Text(required=True, metadata=said("Name used in requests.", "propylene_glycol"))
    title = Text(required=True, metadata=said("Name for readers."))
    min_concentration_percent = Number(required=True, metadata=said("Weakest mixture, by mass."))
    max_concentration_percent = Number(required=True, metadata=said("Strongest mixture, by mass."))
    min_c = Number(required=True, metadata=said("Freezing point of the strongest mixture."))
    max_c = Number(required=True, metadata=said("Warmest that properties reach."))
    bases = ListOf(
        Choice(("mass", "volume"), component="StrengthBasis"),
        required=True,
        longest=2,
        metadata=said("In which ways its concentration may be given."),
    )
    hazards = ListOf(
        Choice(HAZARDS, component="HazardWord"),
        required=True,
        longest=20,
        metadata=said("Words that `hazards` explains."),
    )
    freezing_spread = ListOf(
        Nested(lambda: FreezingSpreadSchema),
        required=True,
        longest=100,
        metadata=said(
            "How far published freezing points lie above the one in use: straight lines between "
            "these strengths, the same beyond the ends. Margins are kept to the warmest."
        ),
    )
    viscosity_spread = ListOf(
        Nested(lambda: ViscositySpreadSchema),
        required=True,
        longest=100,
        metadata=said("How much more viscous published data make it: straight lines likewise."),
    )
    less_viscous_percent = Number(
        required=True, metadata=said("How much less viscous, inhibited products for the most part.")
    )
    caution = Text(required=True, longest=2_000, metadata=said("What to mind before choosing it."))
    source = Text(required=True, longest=2_000, metadata=said("Where its properties come from."))


class AntifreezesSchema(StrictSchema):
    """Every antifreeze on offer."""

    antifreezes = ListOf(
        Nested(lambda: AntifreezeOnOfferSchema),
        required=True,
        longest=_MOST,
        metadata=said("The kinds."),
    )
    hazards = ListOf(
        Nested(lambda: HazardSchema), required=True, longest=20, metadata=said("Hazards explained.")
    )
    volume_basis = Text(
        required=True, longest=2_000, metadata=said("What a concentration by volume means.")
    )


class StandardPipeSchema(StrictSchema):
    """A standard pipe."""

    name = Text(required=True, metadata=said("Name used in requests.", "PE100 SDR11 32"))
    outside_diameter_mm = Number(required=True, metadata=said("Nominal outside diameter."))
    wall_mm = Number(required=True, metadata=said("Minimum wall."))
    bore_mm = Number(required=True, metadata=said("Outside diameter less two walls."))
    roughness_mm = Number(required=True, metadata=said("Roughness of the inside."))
    contents_l_m = Number(required=True, metadata=said("Contents of a metre, litres."))
    pressure_class_kpa = Number(
        required=True, metadata=said("Allowable operating pressure with water at 20 °C.")
    )


class PipesSchema(StrictSchema):
    """Every standard pipe."""

    pipes = ListOf(
        Nested(lambda: StandardPipeSchema),
        required=True,
        longest=_MOST,
        metadata=said("The pipes."),
    )
    source = Text(required=True, longest=2_000, metadata=said("Where the sizes come from."))


class FittingOnOfferSchema(StrictSchema):
    """A kind of fitting by its three constants, K = K1/Re + Ki (1 + Kd / DN^0.3), DN in inches."""

    kind = Text(required=True, metadata=said("Name used in requests.", "elbow_90"))
    k1 = Number(required=True, metadata=said("Constant of the Reynolds number."))
    ki = Number(required=True, metadata=said("Constant at high Reynolds numbers."))
    kd = Number(required=True, metadata=said("Constant of the size."))


class FittingsSchema(StrictSchema):
    """Every kind of fitting."""

    fittings = ListOf(
        Nested(lambda: FittingOnOfferSchema),
        required=True,
        longest=_MOST,
        metadata=said("The kinds."),
    )
    source = Text(required=True, longest=2_000, metadata=said("Where the constants come from."))


class ExampleSchema(StrictSchema):
    """An invented job to start from."""

    name = Text(required=True, metadata=said("Short name.", "quince-barn-short-tail"))
    title = Text(required=True, metadata=said("What it is called.", "Quince Barn (invented)"))
    href = Text(required=True, metadata=said("Where it is."))
    calculations = ListOf(
        Text(),
        required=True,
        longest=_MOST,
        metadata=said("Addresses whose chapter it asks for.", ["/v1/split", "/v1/balancing"]),
    )


class ExamplesSchema(StrictSchema):
    """Every example."""

    examples = ListOf(
        Nested(lambda: ExampleSchema), required=True, longest=_MOST, metadata=said("Examples.")
    )


class LinkSchema(StrictSchema):
    """An address of this service."""

    method = Choice(
        ("GET", "POST"), component="Method", required=True, metadata=said("HTTP method.")
    )
    href = Text(required=True, metadata=said("Address.", "/v1/split"))
    title = Text(required=True, longest=2_000, metadata=said("What is there."))


class IndexSchema(StrictSchema):
    """Where everything is."""

    title = Text(required=True, metadata=said("The service."))
    version = Text(required=True, metadata=said("Its version.", "0.1.0"))
    links = ListOf(
        Nested(lambda: LinkSchema), required=True, longest=_MOST, metadata=said("Addresses.")
    )


class ReadinessSchema(StrictSchema):
    """Whether the service would begin a calculation now."""

    ready = Flag(required=True, metadata=said("Always true where this is answered."))


class HealthSchema(StrictSchema):
    """Whether the service answers."""

    healthy = Flag(required=True, metadata=said("Always true where this is answered."))
    version = Text(required=True, metadata=said("Version of the service.", "0.1.0"))
