"""Whatever is not JSON (RFC 8259) is refused with the place and the reason."""

import json
import random
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from api.service.json_body import parse_json
from api.service.problems import ProblemError


def refused(body: bytes, nesting: int = 64) -> ProblemError:
    with pytest.raises(ProblemError) as caught:
        parse_json(body, nesting)
    return caught.value


def places(error: ProblemError) -> list[tuple[str | int, ...]]:
    return [refusal.place for refusal in error.refusals]


def test_malformed_json_is_refused_with_line_and_column() -> None:
    error = refused(b'{\n  "a": 1,\n  "b" 2\n}')
    assert "line 3, column 7" in error.detail


@pytest.mark.parametrize("text", [b"{'a': 1}", b"[1, 2,]", b"[01]", b"[+1]", b"[.5]", b"[1.]",
                                  b"[0x10]", b"{} {}", b"[1] // one", b'["\t"]', b'["\\x41"]',
                                  b"nul", b"[1e]", b"\xa0{}"])  # fmt: skip
def test_what_the_grammar_does_not_have_is_refused(text: bytes) -> None:
    assert refused(text).type.slug == "malformed-json"


@pytest.mark.parametrize("name", ["NaN", "Infinity", "-Infinity"])
def test_nan_and_infinities_are_refused_where_they_stand(name: str) -> None:
    error = refused(f'{{"a": [1, {{"b": {name}}}], "c": {name}}}'.encode())
    assert places(error) == [("a", 1, "b"), ("c",)]
    assert error.refusals[0].value == name


def test_repeated_names_are_refused_at_every_depth_all_at_once() -> None:
    error = refused(b'{"a": 1, "a": 2, "b": [{"c": 1, "d": 2, "c": 1, "c": 0}]}')
    assert places(error) == [("a",), ("b", 0, "c")]


@pytest.mark.parametrize(
    "text", [rb'{"a": "\ud800"}', rb'{"a": "x\uDFFFy"}', rb'{"a": "\udc00\ud800"}']
)
def test_half_a_surrogate_pair_is_refused(text: bytes) -> None:
    assert places(refused(text)) == [("a",)]


def test_half_a_surrogate_pair_in_a_name_is_refused() -> None:
    assert places(refused(rb'{"a": {"\ud83d": 1}}')) == [("a",)]


def test_a_whole_surrogate_pair_is_one_character() -> None:
    assert parse_json(rb'["\ud83d\ude00", "\\ud800"]', 8) == ["\U0001f600", "\\ud800"]


@pytest.mark.parametrize("body", [b'{"a": "\xff"}', b'"\xed\xa0\x80"', b'"\xc0\xaf"',
                                  '{"a": 1}'.encode("utf-16")])  # fmt: skip
def test_bytes_that_are_not_utf_8_are_refused(body: bytes) -> None:
    assert "not UTF-8" in refused(body).detail


def test_a_byte_order_mark_is_refused_by_name() -> None:
    assert "byte order mark" in refused(b"\xef\xbb\xbf{}").detail


def test_an_integer_of_thousands_of_digits_is_refused() -> None:
    assert "thousands of digits" in refused(b"[" + b"9" * 5_000 + b"]").detail


def test_nesting_is_allowed_up_to_the_limit_and_no_further() -> None:
    def nested(depth: int) -> bytes:
        return b'{"a":' * (depth - 1) + b"[]" + b"}" * (depth - 1)

    assert parse_json(nested(10), 10) is not None
    assert refused(nested(11), 10).type.slug == "nested-too-deep"
    assert refused(nested(100_000), 10).type.slug == "nested-too-deep"


def test_what_json_allows_is_read_as_the_standard_library_reads_it() -> None:
    text = '{"a": [1, -2.5e3, true, false, null, "é\\n\\u00e9"], "b": {}, "NaN": "Infinity"}'
    assert parse_json(text.encode(), 8) == json.loads(text)


@pytest.mark.parametrize("number", ["1e-400", "-3.5E-999", "0." + "0" * 400 + "1"])
def test_a_number_that_would_become_0_is_refused(number: str) -> None:
    error = refused(f'{{"a": [{number}]}}'.encode())
    assert places(error) == [("a", 0)]
    assert "too small to hold" in error.detail


@pytest.mark.parametrize("number", ["0e-400", "0.0", "5e-324", "1E-300", "-0.0e-999"])
def test_a_small_number_that_can_be_held_is_read(number: str) -> None:
    assert parse_json(f"[{number}]".encode(), 8) == [float(number)]


def test_what_the_standard_library_says_reads_well() -> None:
    assert "starting at line 1" in refused(b'{"a": "b').detail


def written(value: Any, draw: random.Random) -> tuple[str, int, bool]:
    """A value as JSON with blanks and escapes as they come; its depth; whether a name repeats."""

    def blank() -> str:
        return draw.choice(("", "", " ", "\n"))

    def text(said: str) -> str:
        return json.dumps(said, ensure_ascii=draw.random() < 0.5)

    if isinstance(value, (list, dict)):
        parts, depth, twice = [], 0, False
        for name, item in value.items() if isinstance(value, dict) else enumerate(value):
            inside, below, again = written(item, draw)
            depth, twice = max(depth, below), twice or again
            if isinstance(value, dict):
                inside = f"{text(str(name))}{blank()}:{blank()}{inside}"
                if draw.random() < 0.02:
                    twice = True
                    parts.append(inside)
            parts.append(inside)
        within = f"{blank()},{blank()}".join(parts)
        open_, close = "{}" if isinstance(value, dict) else "[]"
        return f"{open_}{blank()}{within}{blank()}{close}", depth + 1, twice
    return text(value) if isinstance(value, str) else json.dumps(value), 0, False


TEXTS = st.text(st.sampled_from('a1é:{}[]",\\ 0e\U0001f600\n'), max_size=8)
VALUES = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False)
    | TEXTS,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(TEXTS, inner, max_size=4),
    max_leaves=25,
)  # fmt: skip


@given(VALUES, st.integers(0, 2**32))
def test_any_text_is_read_as_the_standard_library_reads_it_or_refused(
    value: Any, seed: int
) -> None:
    # Signs of structure within texts, escapes and odd numbers: the short way must see them all.
    text, depth, twice = written(value, random.Random(seed))
    limit = 4
    if depth > limit:
        assert refused(text.encode(), limit).type.slug == "nested-too-deep"
    elif twice:
        assert "given more than once" in refused(text.encode(), limit).detail
    else:
        read = parse_json(text.encode(), limit)
        assert repr(read) == repr(json.loads(text))
