"""Which kinds of problem are there, and what does each mean?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True, slots=True)
class ProblemType:
    """A kind of problem that people can look up.

    Attributes
    ----------
    slug
        Last part of its URI.
    status
        HTTP status it is sent with.
    title
        Short name, the same every time.
    meaning
        When it is sent.
    remedy
        What to do.
    """

    slug: str
    status: int
    title: str
    meaning: str
    remedy: str

    @property
    def uri(self) -> str:
        """Stable, relative URI of the type and of its page."""
        return f"/v1/problems/{self.slug}"


PROBLEM_TYPES: Final[dict[str, ProblemType]] = {
    each.slug: each
    for each in (
        ProblemType(
            "empty-body", 400, "The request has no body",
            "A calculation was asked for without saying of what.",
            "Send the input as a JSON object with Content-Type: application/json.",
        ),
        ProblemType(
            "malformed-json", 400, "The body is not JSON",
            "The body breaks the grammar of RFC 8259: a missing comma, a trailing comma, NaN or "
            "Infinity, a field given twice, bytes that are not UTF-8, half of a surrogate pair.",
            "Mend the body at the line and column, or at the pointers, that the problem names.",
        ),
        ProblemType(
            "malformed-file", 400, "The file is no text",
            "A file of a plot was sent that is binary or not in UTF-8.",
            "Save it as text in UTF-8 and send it again.",
        ),
        ProblemType(
            "nested-too-deep", 400, "The body is nested too deep",
            "Objects and lists are nested deeper than this service reads.",
            "Flatten the array: a circuit inside a circuit takes three levels. The setting "
            "EVENLOOP_MAX_NESTING raises the limit.",
        ),
        ProblemType(
            "unknown-parameter", 400, "The address has a parameter that it does not take",
            "A parameter after the question mark would have been ignored, or has a value that it "
            "cannot have.",
            "Put the input into the JSON body and leave the parameter out; where the address takes "
            "parameters, the problem says which.",
        ),
        ProblemType(
            "key-required", 401, "A key is required",
            "This service answers calculations to those with a key, and the request carries none "
            "that is known.",
            "Send Authorization: Bearer followed by your key; whoever runs the service gives it.",
        ),
        ProblemType(
            "not-found", 404, "There is nothing at this address",
            "The path is not one of this service, or there is no such study of this key.",
            "GET /v1 lists the addresses, GET /v1/studies the studies.",
        ),
        ProblemType(
            "method-not-allowed", 405, "The method is not allowed here",
            "The address exists, but not with this method.",
            "Use one of the methods in the Allow header.",
        ),
        ProblemType(
            "not-acceptable", 406, "The answer comes in another media type",
            "The Accept header rules out every media type that this address sends.",
            "Accept one of the media types that the problem names, or leave the header out.",
        ),
        ProblemType(
            "body-too-large", 413, "The body is too large",
            "The body is longer than this service reads.",
            "Give equal loops once with a count. The setting EVENLOOP_MAX_BODY_BYTES raises the "
            "limit.",
        ),
        ProblemType(
            "unsupported-media-type", 415, "The body comes in another media type",
            "The Content-Type is not application/json (of a plot's file, one of those that its "
            "address takes), or the body is compressed.",
            "Send it as it is, in UTF-8, with the Content-Type that the problem names.",
        ),
        ProblemType(
            "invalid-input", 422, "The input cannot describe a real case",
            "The JSON is well formed, but a field is missing, unknown, of the wrong type or out of "
            "its range, or two fields contradict each other. All such faults are listed.",
            "Change each value that the problem points at to what it says is allowed.",
        ),
        ProblemType(
            "outside-range", 422, "A correlation does not reach this far",
            "The input is real, but outside the range for which a property or a law is published: "
            "a fluid at or below its freezing point, a strength that nobody measured.",
            "Stay in the range that the problem states; no value is extrapolated.",
        ),
        ProblemType(
            "no-solution", 422, "Nothing does what is asked",
            "The input is well formed, but no flow or no array does what it asks: for instance, a "
            "pump that cannot overcome the circuit, or ground colder than the brine from it is to "
            "be.",
            "Read the detail; change what the problem points at.",
        ),
        ProblemType(
            "key-used-otherwise", 422, "The Idempotency-Key came with another body before",
            "A study was accepted with this Idempotency-Key and another body.",
            "Send a new Idempotency-Key with what is another study.",
        ),
        ProblemType(
            "too-many-studies", 422, "As many studies are kept as this service keeps",
            "The caller has as many studies as the setting EVENLOOP_MAX_STUDIES allows.",
            "Delete those that are no longer wanted.",
        ),
        ProblemType(
            "too-many-requests", 429, "More requests than the rate allows",
            "This key, or this address where no keys are set, has asked for more calculations in a "
            "minute than the service allows.",
            "Wait for as long as Retry-After says. Several jobs go in one call to /v1/splits; each "
            "counts.",
        ),
        ProblemType(
            "internal-error", 500, "The service failed",
            "A fault of the service, not of the request. Nothing was computed.",
            "Report it with the instance that the problem names; it is in the service's log.",
        ),
        ProblemType(
            "not-installed", 501, "This form of the answer is not installed",
            "The service was installed without the optional library that writes DXF or Parquet.",
            "Take another form of the answer, or install the service with its extra `dxf` or "
            "`parquet`.",
        ),
        ProblemType(
            "too-busy", 503, "Too much is under way",
            "As many calculations are under way and waiting as the service takes on; this one was "
            "turned away before it began.",
            "Send it again after as long as Retry-After says, with longer pauses if it goes on.",
        ),
        ProblemType(
            "no-room", 503, "There is no room to hold the body",
            "A long body is held in a file while it comes, and the disk of the service is full.",
            "Send it again after as long as Retry-After says; whoever runs the service must make "
            "room in its temporary folder.",
        ),
        ProblemType(
            "no-store", 503, "Studies cannot be kept or read now",
            "The database of studies, or the disk that it lies on, cannot be reached.",
            "Send it again after as long as Retry-After says; with an Idempotency-Key no study is "
            "made twice.",
        ),
        ProblemType(
            "time-limit-exceeded", 503, "The calculation took too long",
            "The calculation was ended at the service's limit of time on the clock; on a machine "
            "less busy it may end in time.",
            "Send it once more later. Where it is ended again, send a smaller array or fewer of "
            "them. The setting EVENLOOP_MAX_SECONDS raises the limit.",
        ),
    )
}  # fmt: skip
