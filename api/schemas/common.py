"""Fields and objects that several requests or responses have, each declared once."""

from __future__ import annotations

from typing import Final

from api.schemas.fields import Choice, Number, Text, said
from api.schemas.objects import ListOf, Nested, StrictSchema
from hydraulics.fluid.antifreezes import KINDS

CONDITIONS: Final = ("cold", "warm")
MOST_ROWS: Final = 1_000_000
"""Most items of a list that has one for each loop, pipe or finding."""


class FluidSchema(StrictSchema):
    """A mixture's properties at one temperature."""

    temperature_c = Number(required=True, metadata=said("Temperature that they hold at."))
    density_kg_m3 = Number(required=True, metadata=said("Density."))
    viscosity_mpa_s = Number(required=True, metadata=said("Dynamic viscosity."))
    specific_heat_kj_kg_k = Number(required=True, metadata=said("Specific heat capacity."))
    conductivity_w_m_k = Number(required=True, metadata=said("Thermal conductivity."))
    prandtl = Number(required=True, metadata=said("Prandtl number."))
    freezing_point_c = Number(required=True, metadata=said("Freezing point of the mixture."))
    freezing_spread_k = Number(
        required=True,
        metadata=said("How much warmer other published data say that this mixture freezes.", 1.3),
    )
    more_viscous_percent = Number(
        required=True,
        metadata=said("How much more viscous other published data say that it is here.", 2),
    )
    less_viscous_percent = Number(
        required=True, metadata=said("How much less; inhibited products for the most part.", 11)
    )


class FindingSchema(StrictSchema):
    """Something worth knowing about the result."""

    code = Text(required=True, metadata=said("Kind of finding.", "laminar_loop"))
    severity = Choice(
        ("info", "warning", "error"),
        component="Severity",
        required=True,
        metadata=said("How much it matters."),
    )
    where = Text(
        longest=1_000,
        metadata=said(
            "JSON Pointer into the job as posted, or into the answer where it has /decides/; "
            "absent for the whole."
        ),
    )
    message = Text(required=True, longest=2_000, metadata=said("What was found."))
    source = Text(required=True, longest=2_000, metadata=said("Where the criterion comes from."))


# ------------------------------------------------------------------------------------- of requests


def job_name() -> Text:
    """Declare the name of a job."""
    return Text(metadata=said("What to call the job.", "Quince Barn (invented)"))


def antifreeze_kind() -> Choice:
    """Declare the kind of antifreeze."""
    return Choice(
        KINDS,
        component="AntifreezeKind",
        required=True,
        metadata=said("Kind, as GET /v1/antifreezes lists them.", "propylene_glycol"),
    )


def basis_of_strength(description: str, *, required: bool = False) -> Choice:
    """Declare what a strength is a share of."""
    return Choice(
        ("mass", "volume"),
        component="StrengthBasis",
        required=required,
        metadata=said(description),
    )


# ------------------------------------------------------------------------------------ of responses


def name_as_given() -> Text:
    """Declare the job's name in the response."""
    return Text(metadata=said("As in the request."))


def reference_as_given() -> Text:
    """Declare the caller's own mark in the response."""
    return Text(longest=200, metadata=said("As in the request."))


def condition_name() -> Choice:
    """Declare the condition that a row is about."""
    return Choice(
        CONDITIONS, component="ConditionName", required=True, metadata=said("Which condition.")
    )


def loop_name() -> Text:
    """Declare the name of the loop that a row is about."""
    return Text(
        required=True,
        longest=1_000,
        metadata=said("Name, with those of the circuits around it but for the outermost."),
    )


def loop_pointer() -> Text:
    """Declare where in the request the loop of a row stands."""
    return Text(
        required=True, longest=1_000, metadata=said("JSON Pointer to its branch in the request.")
    )


def spread_over_mean() -> Number:
    """Declare how far the largest and smallest deviation from target lie apart."""
    return Number(required=True, metadata=said("Largest less smallest deviation."))


def findings_list(longest: int = MOST_ROWS, description: str = "Findings.") -> ListOf:
    """Declare the findings of a result."""
    return ListOf(
        Nested(lambda: FindingSchema), required=True, longest=longest, metadata=said(description)
    )


def cautions_list(
    description: str = "What to mind before anyone acts on the result.",
) -> ListOf:
    """Declare the cautions of a result."""
    return ListOf(Text(longest=2_000), required=True, longest=1_000, metadata=said(description))


def method_of(method: type[StrictSchema]) -> Nested:
    """Declare the methods that a result was computed by."""
    return Nested(lambda: method, required=True, metadata=said("How it was computed."))


def friction_law() -> Text:
    """Declare the law of friction that was used."""
    return Text(required=True, longest=2_000, metadata=said("Law of friction."))


def properties_source() -> Text:
    """Declare the source of the fluid's properties."""
    return Text(required=True, longest=2_000, metadata=said("Fluid properties."))


def service_version() -> Text:
    """Declare the version that computed a result."""
    return Text(required=True, metadata=said("Version of this service.", "0.1.0"))
