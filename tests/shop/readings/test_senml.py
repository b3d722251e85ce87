from __future__ import annotations

import json
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shop.services.senml import BadPack, Record, read_pack, resolve

NOW = 1_750_000_000.0


def bad(pack: Any) -> BadPack:
    with pytest.raises(BadPack) as caught:
        resolve(pack, NOW)
    return caught.value


# RFC 8428, section 5.1.1: one data point.
def test_a_single_data_point_counts_as_now() -> None:
    assert resolve([{"n": "urn:dev:ow:10e2073a01080063", "u": "Cel", "v": 23.1}], NOW) == [
        Record(0, "urn:dev:ow:10e2073a01080063", "Cel", NOW, 23.1)
    ]


# RFC 8428, section 5.1.2: multiple data points, the second example.
MULTIPLE = [
    {"bn": "urn:dev:ow:10e2073a0108006:", "bt": 1.276020076001e09, "bu": "A", "bver": 5, "n": "voltage", "u": "V", "v": 120.1},
    {"n": "current", "t": -5, "v": 1.2},
    {"n": "current", "t": -4, "v": 1.3},
    {"n": "current", "t": -3, "v": 1.4},
    {"n": "current", "t": -2, "v": 1.5},
    {"n": "current", "t": -1, "v": 1.6},
    {"n": "current", "v": 1.7},
]  # fmt: skip


def test_base_values_are_worked_into_each_record() -> None:
    records = resolve(MULTIPLE, NOW)
    assert records[0] == Record(0, "urn:dev:ow:10e2073a0108006:voltage", "V", 1276020076.001, 120.1)
    assert [record.value for record in records[1:]] == [1.2, 1.3, 1.4, 1.5, 1.6, 1.7]
    assert {(record.name, record.unit) for record in records[1:]} == {
        ("urn:dev:ow:10e2073a0108006:current", "A")
    }
    assert records[1].time == pytest.approx(1276020071.001, abs=1e-6)
    assert records[6].time == 1276020076.001


# RFC 8428, section 5.1.3: multiple measurements; its first lines.
def test_a_unit_in_a_record_goes_before_the_base_unit() -> None:
    records = resolve(
        [
            {"bn": "urn:dev:ow:10e2073a01080063", "bt": 1.320067464e09, "bu": "%RH", "v": 20},
            {"u": "lon", "v": 24.30621},
            {"u": "lat", "v": 60.07965},
            {"t": 60, "v": 20.3},
        ],
        NOW,
    )
    assert [(record.unit, record.time, record.value) for record in records] == [
        ("%RH", 1320067464.0, 20.0),
        ("lon", 1320067464.0, 24.30621),
        ("lat", 1320067464.0, 60.07965),
        ("%RH", 1320067524.0, 20.3),
    ]


def test_times_below_two_to_the_28_are_relative_to_now() -> None:
    pack = [
        {"n": "a", "v": 1, "t": 2**28 - 1},
        {"n": "a", "v": 1, "t": 2**28},
        {"n": "a", "v": 1, "t": -60},
    ]
    assert [record.time for record in resolve(pack, NOW)] == [NOW + 2**28 - 1, 2.0**28, NOW - 60]


def test_the_base_value_is_added_and_may_stand_for_a_missing_value() -> None:
    pack = [{"bn": "a", "bv": 20, "v": 0.5}, {"t": 1}, {"bv": 10, "v": 1}]
    assert [record.value for record in resolve(pack, NOW)] == [20.5, 20.0, 11.0]


def test_a_record_with_base_values_only_measures_nothing() -> None:
    assert [record.index for record in resolve([{"bn": "a", "bu": "Cel"}, {"v": 1}], NOW)] == [1]
    assert "no measurement" in bad([{"bn": "a", "bu": "Cel"}]).reason


def test_labels_nobody_knows_are_ignored_unless_they_must_be_understood() -> None:
    assert resolve([{"n": "a", "v": 1, "colour": "grey"}], NOW)[0].value == 1
    refusal = bad([{"n": "a", "v": 1}, {"n": "a", "v": 1, "colour_": "grey"}])
    assert (refusal.record, "colour_" in refusal.reason) == (1, True)


@pytest.mark.parametrize(
    ("record", "reason"),
    [
        ({"v": 1}, "no name"),
        ({"n": "-a", "v": 1}, "characters"),
        ({"n": "ä", "v": 1}, "characters"),
        ({"n": "a"}, "no value"),
        ({"n": "a", "v": "18"}, "finite number"),
        ({"n": "a", "v": True}, "finite number"),
        ({"n": "a", "v": None}, "finite number"),
        ({"n": "a", "v": 10**400}, "finite number"),
        ({"n": "a", "v": 1, "t": "now"}, "'t' must be"),
        ({"n": 5, "v": 1}, "'n' must be text"),
        ({"n": "a", "v": 1, "vs": "x"}, "one value"),
        ({"n": "a", "vb": True}, "must be a number"),
        ({"n": "a", "v": 1, "bver": 11}, "newer than 10"),
        ("18.4", "JSON object"),
        (None, "JSON object"),
    ],
)
def test_a_bad_record_is_named_with_its_place(record: Any, reason: str) -> None:
    refusal = bad([{"n": "good", "v": 1, "u": "Cel"}, record] if record != {"v": 1} else [record])
    assert refusal.record == (0 if record == {"v": 1} else 1)
    assert reason in refusal.reason


@pytest.mark.parametrize(
    ("body", "reason"),
    [
        (b"", "not JSON"),
        (b"{", "not JSON"),
        (b"\xff\xfe", "not UTF-8"),
        (b'[{"n":"a","v":NaN}]', "NaN"),
        (b'[{"n":"a","v":18,"v":19}]', "twice"),
        (b'[{"n":"a","v":1e999}]', "finite"),
        (b"[" * 100_000, "nested too deeply"),
        (b"{}", "array"),
        (b"[]", "array"),
        (b"[" + b'{"n":"a","v":1},' * 4000 + b'{"n":"a","v":1}]', "too many"),
        (b'[{"n":"a","v":' + b"9" * 5000 + b"}]", "not JSON"),
    ],
)
def test_a_body_that_is_no_pack_is_refused(body: bytes, reason: str) -> None:
    with pytest.raises(BadPack) as caught:
        read_pack(body, NOW)
    assert reason in caught.value.reason


JSON = st.recursive(
    st.none() | st.booleans() | st.floats() | st.integers() | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(
        st.sampled_from(["bn", "bt", "bu", "bv", "bver", "n", "u", "v", "vs", "t", "x_", "x"]), inner, max_size=6
    ),
    max_leaves=20,
)  # fmt: skip


@given(JSON)
def test_any_json_is_read_or_refused_with_a_reason(body: Any) -> None:
    reason, records = "", []
    try:
        records = read_pack(json.dumps(body).encode(), NOW)
    except BadPack as refusal:
        reason = refusal.reason
    assert bool(reason) != bool(records)
    assert all(record.name for record in records)
