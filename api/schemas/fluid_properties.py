"""Request and response of POST /v1/fluid-properties."""

from __future__ import annotations

from api.schemas.common import FluidSchema, antifreeze_kind, basis_of_strength
from api.schemas.fields import Choice, Number, Text, said
from api.schemas.objects import ListOf, Nested, StrictSchema


class FluidPropertiesRequestSchema(StrictSchema):
    """A mixture at each of some strengths and temperatures; one of each gives one state."""

    kind = antifreeze_kind()
    basis = basis_of_strength("What the strengths are shares of.", required=True)
    concentrations_percent = ListOf(
        Number(minimum=0, maximum=100),
        required=True,
        shortest=1,
        longest=1_000,
        engine="fraction",
        metadata=said("Strengths.", [20, 25, 30]),
    )
    temperatures_c = ListOf(
        Number(minimum=-100, maximum=150),
        required=True,
        shortest=1,
        longest=1_000,
        metadata=said("Temperatures.", [-5, 0, 5]),
    )


class MixtureStatesSchema(StrictSchema):
    """One strength: its freezing point, and its properties where it is liquid."""

    concentration_percent = Number(required=True, metadata=said("As asked for."))
    mass_percent = Number(required=True, metadata=said("The same by mass."))
    volume_percent = Number(metadata=said("The same by volume; absent for a dissolved salt."))
    freezing_point_c = Number(required=True, metadata=said("Freezing point."))
    states = ListOf(
        Nested(lambda: FluidSchema),
        required=True,
        longest=1_000,
        metadata=said("Properties, in the order of the temperatures asked for."),
    )
    without_properties_c = ListOf(
        Number(),
        required=True,
        longest=1_000,
        metadata=said(
            "Temperatures asked for at which this strength is frozen or past its correlation; no "
            "properties are given there."
        ),
    )


class FluidPropertiesResponseSchema(StrictSchema):
    """Properties at every strength and temperature asked for."""

    kind = Text(required=True, metadata=said("Kind of antifreeze."))
    basis = Choice(
        ("mass", "volume"), component="StrengthBasis", required=True, metadata=said("As asked for.")
    )
    mixtures = ListOf(
        Nested(lambda: MixtureStatesSchema),
        required=True,
        longest=1_000,
        metadata=said("One entry a strength, in the order asked for."),
    )
    caution = Text(required=True, longest=2_000, metadata=said("What to mind before choosing it."))
    source = Text(required=True, longest=2_000, metadata=said("Where the properties come from."))
