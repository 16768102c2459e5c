"""What is packed is what the script unpacks."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from layers.maps.packing import pack
from tests.maps.unpacking import unpack

TEXT = st.text(st.characters(exclude_characters="\x1f", exclude_categories=["Cs"]), max_size=12)


@given(
    arrays(np.int32, st.integers(0, 9)),
    arrays(np.int16, st.integers(0, 9)),
    arrays(np.uint8, st.integers(0, 9)),
    st.lists(TEXT, min_size=1, max_size=9),
    st.dictionaries(TEXT, st.integers(-5, 5), max_size=3),
)
def test_columns_and_header_come_back_as_they_went_in(
    whole: np.ndarray, half: np.ndarray, small: np.ndarray, texts: list[str], said: dict[str, int]
) -> None:
    body = pack({"said": said}, {"whole": whole, "half": half, "texts": texts, "small": small})
    header, columns = unpack(body)
    assert header == {"said": said}
    assert np.array_equal(columns["whole"], whole)
    assert np.array_equal(columns["half"], half)
    assert np.array_equal(columns["small"], small)
    assert columns["texts"] == texts


def test_every_column_begins_at_a_multiple_of_eight_as_typed_arrays_need() -> None:
    body = pack({}, {"a": np.zeros(3, np.uint8), "b": ["é"], "c": np.arange(2, dtype=np.int32)})
    size = int.from_bytes(body[4:8], "little")
    assert body[:4] == b"BXR1"
    assert (8 + size) % 8 == 0
    _, columns = unpack(body)
    assert list(columns["c"]) == [0, 1]
