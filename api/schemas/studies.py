"""What a study is asked for, and what is told of it."""

from __future__ import annotations

import re
from typing import Any, Final

from api.refusals import BROKEN, Json, Place, Refusal
from api.schemas.fields import Checked, Choice, Flag, Integer, Number, Refusals, Text, said
from api.schemas.job import JobSchema
from api.schemas.objects import ListOf, Nested, StrictSchema
from api.schemas.splits import ProblemField, UnreadJob
from api.schemas.told import counted, named, rows
from hydraulics.studies.cases import METHODS

CALCULATIONS: Final = (
    "split", "sizing", "setting_out", "balancing", "pump_choice", "groundworks", "commissioning",
    "designs",
)  # fmt: skip
STATES: Final = ("queued", "running", "finished", "cancelled")
MOST_CASES: Final = 10_000_000
MOST_PAGE: Final = 1_000
_MOST_VALUES: Final = 10_000
_MOST_PLACES: Final = 50
_LONGEST: Final = 300
_BOUND: Final = 1e12


class Pointer(Checked):
    """A JSON Pointer (RFC 6901) to something within a document."""

    allowed: Final = "a JSON Pointer, as /duty/flow_l_s"
    _form: Final = re.compile(r"(?:/(?:[^~/]|~[01])*)+")

    def check(self, value: Json, place: Place, refusals: Refusals) -> Json:
        """Accept a pointer that leads somewhere."""
        if type(value) is str and len(value) <= _LONGEST and self._form.fullmatch(value):
            return value
        return self.refuse(value, self.allowed, place, refusals)

    def described(self) -> dict[str, Any]:
        """Type and format."""
        return {"type": "string", "format": "json-pointer", "minLength": 1, "maxLength": _LONGEST}


class Value(Checked):
    """Any JSON value; what it may be, the place that it is put in knows."""

    def check(self, value: Json, place: Place, refusals: Refusals) -> Json:
        """Accept whatever is given."""
        del place, refusals
        return value


class Cells(Checked):
    """Values by their pointers; only ever sent."""

    def described(self) -> dict[str, Any]:
        """An object of any names."""
        return {"type": "object", "additionalProperties": True}


def _at(description: str) -> Pointer:
    return Pointer(required=True, metadata=said(description))


class ListedSchema(StrictSchema):
    """Values that are put in a place, one after the other."""

    at = _at("Place in the job.")
    values = ListOf(
        Value(),
        required=True,
        shortest=1,
        longest=_MOST_VALUES,
        metadata=said("What is put there."),
    )


class RangeSchema(StrictSchema):
    """Numbers at equal distances, both ends among them."""

    at = _at("Place in the job.")
    min = Number(required=True, minimum=-_BOUND, maximum=_BOUND, metadata=said("The first."))
    max = Number(required=True, minimum=-_BOUND, maximum=_BOUND, metadata=said("The last."))
    count = Integer(
        required=True, minimum=2, maximum=_MOST_VALUES, metadata=said("How many, with both ends.")
    )


class PairedSchema(StrictSchema):
    """Several places that change together, such as a pipe and its price."""

    at = ListOf(
        Pointer(),
        required=True,
        shortest=2,
        longest=_MOST_PLACES,
        metadata=said("Places in the job."),
    )
    values = ListOf(
        ListOf(Value(), shortest=2, longest=_MOST_PLACES, metadata={}),
        required=True,
        shortest=1,
        longest=_MOST_VALUES,
        metadata=said("Rows of values, one for each place, in their order."),
    )


class SampledPlaceSchema(StrictSchema):
    """What is sampled in one place: a number between two, or one of a list of values."""

    at = _at("Place in the job.")
    min = Number(minimum=-_BOUND, maximum=_BOUND, metadata=said("Lowest number."))
    max = Number(minimum=-_BOUND, maximum=_BOUND, metadata=said("Highest number."))
    values = ListOf(
        Value(),
        shortest=1,
        longest=_MOST_VALUES,
        metadata=said("Values, all as likely, instead of numbers between two."),
    )
    together = (("min", "max"),)
    apart = (("min", "values"),)

    def check(self, value: Json, place: Place, refusals: Refusals) -> Json:
        """Read the place; one of the two ways is wanted."""
        read = super().check(value, place, refusals)
        if read is not BROKEN and "min" not in value and "values" not in value:
            detail = "Give min and max, or values."
            refusals.append(Refusal(place, detail, allowed="min and max, or values"))
        return read


class SampledSchema(StrictSchema):
    """Random values in several places together, the same for the same seed."""

    method = Choice(
        METHODS,
        component="SamplingMethod",
        required=True,
        metadata=said(
            "`latin_hypercube`: even over each range by itself; `sobol`: Sobol's sequence, even "
            "over all together; `sensitivity`: two samples and their mixtures, for Sobol indices."
        ),
    )
    points = Integer(
        required=True,
        minimum=1,
        maximum=MOST_CASES,
        metadata=said(
            "Points; a power of two but for `latin_hypercube`. `sensitivity` makes as many cases "
            "for each place, and twice as many more."
        ),
    )
    seed = Integer(minimum=0, load_default=1, metadata=said("Of the random numbers."))
    places = ListOf(
        Nested(lambda: SampledPlaceSchema),
        required=True,
        shortest=1,
        longest=_MOST_PLACES,
        metadata=said("What is sampled."),
    )


class VariationSchema(StrictSchema):
    """One axis of a study; several make a grid."""

    one_of = ("listed", "range", "paired", "sampled")
    listed = Nested(lambda: ListedSchema, metadata=said("A list of values in one place."))
    range = Nested(lambda: RangeSchema, metadata=said("Evenly spaced numbers in one place."))
    paired = Nested(lambda: PairedSchema, metadata=said("Rows of values in several places."))
    sampled = Nested(lambda: SampledSchema, metadata=said("A random sample."))
    what = "a variation"


class StudySchema(StrictSchema):
    """A job, what is varied in it, and what is kept of each answer."""

    name = Text(metadata=said("What the study is called."))
    calculation = Choice(
        CALCULATIONS,
        component="StudiedCalculation",
        required=True,
        metadata=said("Which calculation each case is sent to."),
    )
    job = UnreadJob(lambda: JobSchema, required=True, metadata=said("The job that is varied."))
    variations = ListOf(
        Nested(lambda: VariationSchema),
        required=True,
        shortest=1,
        longest=_MOST_PLACES,
        metadata=said("Axes of the grid of cases; the last changes first."),
    )
    results = ListOf(
        Pointer(),
        required=True,
        shortest=1,
        longest=_MOST_PLACES,
        metadata=said("Places in the answer whose values are kept.", ["/pump/head_kpa"]),
    )


class StudyStateSchema(StrictSchema):
    """How far a study has come."""

    study = Text(required=True, metadata=said("Names the study in addresses."))
    name = Text(metadata=said("What it is called."))
    calculation = Choice(
        CALCULATIONS,
        component="StudiedCalculation",
        required=True,
        metadata=said("Asked of each case."),
    )
    state = Choice(STATES, component="StudyPhase", required=True, metadata=said("How it stands."))
    cases = counted("Cases that it has.")
    done = counted("Cases that have a row.", 0)
    failed = counted("Of these, cases with a problem.", 0)
    cases_per_s = Number(metadata=said("How many a second were done in the last minute."))
    left_s = Number(metadata=said("Time left at that rate."))
    created = named("When it was accepted, RFC 3339.", "2026-03-14T09:30:00Z")
    ended = Text(metadata=said("When it was finished or cancelled."))


class StudiesSchema(StrictSchema):
    """Studies, the newest first."""

    studies = rows(lambda: StudyStateSchema, "Those of the caller's key.", MOST_PAGE)
    next = Integer(
        minimum=1,
        maximum=2**62,
        metadata=said("What to give as `after` for those that follow; absent at the end."),
    )


class StudyRowSchema(StrictSchema):
    """One case: what was varied, and its results or its problem."""

    case = counted("Number of the case, from 1.")
    varied = Cells(required=True, metadata=said("Values by their places in the job."))
    status = Integer(
        required=True, minimum=200, maximum=599, metadata=said("As the address would answer.")
    )
    results = Cells(metadata=said("Values by their places in the answer; absent is what it lacks."))
    errors = Integer(
        minimum=0, metadata=said("Errors among its findings; absent where there is a problem.")
    )
    warnings = Integer(minimum=0, metadata=said("Warnings among its findings, likewise."))
    problem = ProblemField(metadata=said("What is wrong with the case, otherwise."))
    goals = ListOf(
        Number(),
        longest=6,
        metadata=said("What goals come to, in order, where asked for."),
    )


class StudyResultsSchema(StrictSchema):
    """Rows of a study in the order of cases, those that are done."""

    rows = rows(lambda: StudyRowSchema, "Cases.", MOST_PAGE)
    next = Integer(
        minimum=1,
        maximum=2**62,
        metadata=said("What to give as `after` for those that follow; absent at the end."),
    )


class TermSchema(StrictSchema):
    """A result and what one unit of it counts."""

    at = _at("One of the study's results.")
    times = Number(
        load_default=1,
        minimum=-_BOUND,
        maximum=_BOUND,
        metadata=said("What it is multiplied by, as a price; left out, 1."),
    )


class GoalSchema(StrictSchema):
    """What is to be small or large: a result, or a sum of several with their prices."""

    sum = ListOf(
        Nested(lambda: TermSchema), required=True, shortest=1, longest=_MOST_PLACES,
        metadata=said("Terms that are added up."),
    )  # fmt: skip
    towards = Choice(
        ("min", "max"), component="Towards", load_default="min", metadata=said("Which is better.")
    )


class KeptLimitSchema(StrictSchema):
    """What a case has to keep to be chosen: a range, or one value."""

    at = _at("One of the study's results.")
    min = Number(minimum=-_BOUND, maximum=_BOUND, metadata=said("Lowest value."))
    max = Number(minimum=-_BOUND, maximum=_BOUND, metadata=said("Highest value."))
    value = Value(metadata=said("The value itself, such as true or a word."))


class BestSchema(StrictSchema):
    """What is best, and under which limits."""

    goals = ListOf(
        Nested(lambda: GoalSchema), required=True, shortest=1, longest=6,
        metadata=said("One goal, or several that are weighed against each other."),
    )  # fmt: skip
    limits = ListOf(
        Nested(lambda: KeptLimitSchema), longest=_MOST_PLACES,
        metadata=said("What cases have to keep; others, and those with a problem, are left aside."),
    )  # fmt: skip
    errors_allowed = Flag(
        load_default=False,
        metadata=said("Whether cases whose answer tells an error may be found as well."),
    )
    most = Integer(
        minimum=1, maximum=MOST_PAGE, load_default=20, metadata=said("Most rows of the answer.")
    )


class LimitCostSchema(StrictSchema):
    """What a limit does to the choice."""

    at = _at("The limit's result.")
    kept_by = counted("Cases that keep it, whatever else they do.", 0)
    costs = Number(
        metadata=said(
            "How much better the goal would be without it; absent where there is no choice."
        )
    )


class BestAnswerSchema(StrictSchema):
    """Cases that were found, of how many."""

    rows = rows(lambda: StudyRowSchema, "Cases: the best first, or those of the front.", MOST_PAGE)
    found = counted("How many were found, those beyond `most` too.", 0)
    eligible = counted(
        "Cases that keep all limits, have every goal, and tell no error unless allowed.", 0
    )
    done = counted("Cases that are done.", 0)
    proven = Flag(
        required=True,
        metadata=said("Whether all cases of a grid were compared, so that none is better."),
    )
    method = named("How it was found, and what that proves.")
    limits = ListOf(
        Nested(lambda: LimitCostSchema),
        longest=_MOST_PLACES,
        metadata=said("What each limit costs."),
    )


class DependenceSchema(StrictSchema):
    """Results whose dependence on what was varied is asked for."""

    results = ListOf(
        Pointer(), required=True, shortest=1, longest=_MOST_PLACES,
        metadata=said("Of the study's results, numbers."),
    )  # fmt: skip


class QuantityInfluenceSchema(StrictSchema):
    """How one varied quantity and one result go together."""

    at = _at("Place in the job.")
    rank_correlation = Number(metadata=said("From -1 to 1; absent where either never changes."))
    first_order = Number(metadata=said("Sobol index: its share of the variance by itself."))
    total = Number(metadata=said("Sobol index with all that it does together with others."))


class ResultInfluencesSchema(StrictSchema):
    """What one result depends on."""

    at = _at("The result.")
    cases = counted("Cases that have it.", 0)
    quantities = rows(lambda: QuantityInfluenceSchema, "Quantities that were varied.", 100)
    without_indices = Text(longest=1_000, metadata=said("Why there are no Sobol indices."))


class DependencesSchema(StrictSchema):
    """What results depend on."""

    results = rows(lambda: ResultInfluencesSchema, "One for each result asked for.", _MOST_PLACES)
    method = named("How it was computed.")
