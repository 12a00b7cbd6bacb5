"""What a baker measured survives its way through a request and a note, or is refused in plain words."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from holdctl.errors import ConfigError
from holdctl.food.measured import Measurement, checked, read_detail, read_subject

some = st.builds(
    Measurement,
    ph=st.none() | st.floats(0, 14),
    aw=st.none() | st.floats(0.01, 1),
    packaged=st.booleans(),
    brix=st.none() | st.floats(0, 100),
    mass_g=st.none() | st.floats(1, 1e6),
    taste=st.text(max_size=200),
    text=st.text(max_size=400),
)


@given(some)
def test_a_measurement_comes_back_from_its_request_and_from_its_note(value: Measurement) -> None:
    assert read_detail(value.detail()) == value
    if not value.empty:
        assert read_subject(value.subject()) == value


def test_a_plain_note_is_no_measurement() -> None:
    assert read_subject("measured by hand, smells sweet") is None
    assert read_subject("stirred") is None
    assert read_detail({"by": "baker"}) is None
    assert read_detail({"measured": {"ph": "sour"}}) is None


@pytest.mark.parametrize("bad", [{"ph": 15.0}, {"aw": 1.2}, {"brix": -1.0}, {"mass_g": 0.0}])
def test_what_cannot_be_measured_is_refused(bad: dict[str, float]) -> None:
    with pytest.raises(ConfigError, match="has to be"):
        checked(**bad)
    with pytest.raises(ConfigError):
        read_subject(f"measured {bad}".replace("'", '"'))


def test_nothing_measured_is_refused() -> None:
    with pytest.raises(ConfigError, match="Nothing was measured"):
        read_subject('measured {"text":"x"}')


def test_it_reads_as_a_baker_writes_it() -> None:
    assert checked(ph=4.1, brix=22.5, mass_g=812.0, taste="sweet", aw=None).words() == (
        "pH 4.1, 22.5 °Brix, 812 g, taste: sweet"
    )
