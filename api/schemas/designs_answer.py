"""The answer of POST /v1/designs."""

from __future__ import annotations

from api.schemas.array import CircuitSchema
from api.schemas.balancing import BalancingOptionsSchema
from api.schemas.balancing_answer import BalancingAnswerSchema
from api.schemas.commissioning_answer import CommissioningAnswerSchema
from api.schemas.common import findings_list, name_as_given, reference_as_given
from api.schemas.duty import DutySchema
from api.schemas.fields import said
from api.schemas.groundworks_answer import GroundworksAnswerSchema
from api.schemas.objects import Nested, StrictSchema
from api.schemas.plot import PlotSchema
from api.schemas.pump_choice_answer import PumpChoiceAnswerSchema
from api.schemas.pumps import PumpSchema
from api.schemas.setting_out import SettingOutOptionsSchema
from api.schemas.setting_out_answer import SettingOutAnswerSchema
from api.schemas.sizing_answer import SizingAnswerSchema
from api.schemas.split_answer import SplitAnswerSchema


class DesignDecidesSchema(StrictSchema):
    """The parts of a job that a design decides."""

    array = Nested(
        lambda: CircuitSchema, metadata=said("The array, where it was sized or balanced.")
    )
    plot = Nested(
        lambda: PlotSchema,
        metadata=said("The plot with the place of everything, where the array was set out."),
    )
    balancing = Nested(
        lambda: BalancingOptionsSchema,
        metadata=said(
            "As posted, without `take`, where a way was put in: with it, the next calculation "
            "would put it in twice."
        ),
    )
    setting_out = Nested(
        lambda: SettingOutOptionsSchema,
        metadata=said("As posted, with the way's pipe of runs, where it has another."),
    )
    duty = Nested(lambda: DutySchema, metadata=said("The duty, where it was sized."))
    pump = Nested(lambda: PumpSchema, metadata=said("The pump, where one was taken."))


class DesignAnswerSchema(StrictSchema):
    """Each chapter as its own address answers it, all of the array as decided.

    The chapter on balancing shows the array as it was before.
    """

    name = name_as_given()
    reference = reference_as_given()
    decides = Nested(
        lambda: DesignDecidesSchema,
        required=True,
        metadata=said("What was decided, as the job takes it; empty where nothing was."),
    )
    sizing = Nested(
        lambda: SizingAnswerSchema, metadata=said("Absent where the job does not ask for it.")
    )
    setting_out = Nested(
        lambda: SettingOutAnswerSchema, metadata=said("Absent where not asked for.")
    )
    split = Nested(lambda: SplitAnswerSchema, required=True, metadata=said("The main job."))
    balancing = Nested(
        lambda: BalancingAnswerSchema,
        metadata=said("Absent where not asked for, or not needed, as a finding then says."),
    )
    pump_choice = Nested(
        lambda: PumpChoiceAnswerSchema, metadata=said("Absent where not asked for.")
    )
    groundworks = Nested(
        lambda: GroundworksAnswerSchema, metadata=said("Absent where not asked for.")
    )
    commissioning = Nested(
        lambda: CommissioningAnswerSchema, metadata=said("Absent where not asked for.")
    )
    findings = findings_list(100, "About the chain; each chapter has its own.")
