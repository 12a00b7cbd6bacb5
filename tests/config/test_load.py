"""`holdctl.toml`: everything wrong is said at once, and every value has an origin."""

import re
from importlib.resources import files

import pytest
from hypothesis import given
from hypothesis import strategies as st

from holdctl.config import find, load, record_path
from holdctl.config.load import flat
from holdctl.config.places import config_folder
from holdctl.config.problems import problems
from holdctl.errors import ConfigError
from holdctl.food.codes import CODES
from holdctl.settings import Flour, Kind, Lid, Place, Settings
from holdsim import PRESETS

GOOD = """\
food_code = "uk"
independent_cutoff = "one-shot thermal link, 104 °C, under the mat"

[warmer]
name = "Heat mat"
power_w = 60
kind = "mat"

[vessel]
inner_diameter_cm = 14

[scald]
flour = "whole-rye"
mass_g = 900

[[probe]]
channel = 1
place = "mid"
error_k = 0.5

[[probe]]
channel = 2
place = "wall"
error_k = 1
checked_on = 2026-03-01

[programme]
[[programme.step]]
to = 65
for = "4 h"
"""


@pytest.fixture
def write(tmp_path):
    def put(text):
        path = tmp_path / "holdctl.toml"
        path.write_text(text, "utf-8")
        return path

    return put


def _said(path, **kwargs) -> list[str]:
    """The problems that loading names, without the head line."""
    with pytest.raises(ConfigError) as caught:
        load(path, **kwargs)
    text = str(caught.value)
    assert caught.value.exit_code == 2
    assert str(path) in text
    assert "Traceback" not in text
    lines = text.split("\n  ")
    return lines[1:] if len(lines) > 1 else [text.split("used: ", 1)[-1]]


def _without(key: str) -> str:
    return re.sub(rf"^{key} = .*\n", "", GOOD, flags=re.M)


def test_a_plain_file_becomes_settings(write):
    settings = load(write(GOOD)).settings
    assert settings.warmer.power_w == 60.0
    assert settings.scald.flour is Flour.WHOLE_RYE
    assert settings.vessel.lid is Lid.ON
    assert [probe.place for probe in settings.probe] == [Place.MID, Place.WALL]
    assert settings.programme.every_part == (62.0, 67.0)


@pytest.mark.parametrize("name", sorted(PRESETS))
def test_the_file_of_every_preset_loads(write, name):
    assert load(write(PRESETS[name].settings_toml())).settings.test_rig


def test_every_value_says_where_it_came_from(write):
    path = write(GOOD)
    loaded = load(path, port="/dev/ttyACM0")
    assert loaded.origin["warmer.power_w"] == str(path)
    assert loaded.origin["probe.2.checked_on"] == str(path)
    assert loaded.origin["programme.step.1.for"] == str(path)
    assert loaded.origin["warmer.cycle_s"] == "default"
    assert loaded.origin["limits.wall_high_c"] == "default"
    assert loaded.origin["port.url"] == "command line"
    assert set(loaded.origin) == set(flat(loaded.settings))
    assert set(loaded.origin.values()) == {str(path), "default", "command line"}


def test_the_port_of_the_command_line_outranks_the_file_and_keeps_the_rest_of_its_table(write):
    loaded = load(write(GOOD + '\n[port]\nurl = "/dev/ttyUSB0"\nbaud = 9600\n'), port="socket://rig:7000")
    assert loaded.settings.port.url == "socket://rig:7000"
    assert loaded.settings.port.baud == 9600
    assert loaded.origin["port.baud"].endswith("holdctl.toml")


def test_a_port_that_is_no_table_is_a_problem_with_a_port_on_the_command_line_too(write):
    path = write('port = "/dev/ttyUSB0"\n' + GOOD)
    assert "port" in _said(path)[0]
    assert "port" in _said(path, port="/dev/ttyACM0")[0]


def test_an_unknown_key_names_the_nearest_known_one(write):
    path = write(GOOD.replace("power_w", "powr_w"))
    assert _said(path) == [
        "warmer.powr_w: unknown key; did you mean “power_w”?",
        "warmer.power_w: missing.",
    ]


def test_an_unknown_key_like_nothing_here_lists_the_known_ones(write):
    said = _said(write(GOOD + "\n[room]\nxyzzy = 3\n"))
    assert said == ["room.xyzzy: unknown key; known here: ambient_c."]


def test_an_unknown_key_in_a_list_says_in_which_entry(write):
    said = _said(write(GOOD.replace("error_k = 1\n", "error_k = 1\noffset = 0.3\n")))
    assert said == ["probe 2.offset: unknown key; did you mean “offset_k”?"]


@pytest.mark.parametrize(
    ("old", "new", "key"),
    [
        ("power_w = 60", 'power_w = "60 W"', "warmer.power_w"),
        ("mass_g = 900", "mass_g = true", "scald.mass_g"),
        ("channel = 1", "channel = 1.5", "probe 1.channel"),
        ('flour = "whole-rye"', 'flour = "oat"', "scald.flour"),
        ('place = "mid"', 'place = "middle"', "probe 1.place"),
        ('for = "4 h"', "for = 4", "programme.step 1.for"),
        ("checked_on = 2026-03-01", 'checked_on = "last spring"', "probe 2.checked_on"),
    ],
)
def test_a_value_of_the_wrong_type_is_named_with_its_key_and_what_stands_there(write, old, new, key):
    assert old in GOOD
    said = _said(write(GOOD.replace(old, new)))
    assert said[0].startswith(f"{key}: ")
    assert len(said) == 1


def test_a_value_where_a_table_belongs_is_refused(write):
    path = write("vessel = 14\n" + GOOD.replace("[vessel]\ninner_diameter_cm = 14\n", ""))
    assert _said(path) == ["vessel: this must be a table, [vessel]."]


@pytest.mark.parametrize(
    ("old", "new", "key"),
    [
        ("power_w = 60", "power_w = 0", "warmer.power_w"),
        ("power_w = 60", "power_w = nan", "warmer.power_w"),
        ("power_w = 60", "power_w = inf", "warmer.power_w"),
        ('kind = "mat"', "heat_capacity_j_k = -1", "warmer.heat_capacity_j_k"),
        ('kind = "mat"', "heat_capacity_j_k = 850\nloss_w_k = -0.1", "warmer.loss_w_k"),
        ("channel = 1", "channel = 5", "probe 1.channel"),
        ("error_k = 0.5", "error_k = 9", "probe 1.error_k"),
        ("to = 65", "to = 165", "programme.step 1.to"),
        ("inner_diameter_cm = 14", "inner_diameter_cm = 900", "vessel.inner_diameter_cm"),
        ('name = "Heat mat"', 'name = ""', "warmer.name"),
    ],
)
def test_a_value_out_of_range_is_refused_with_its_range(write, old, new, key):
    assert old in GOOD
    said = _said(write(GOOD.replace(old, new, 1)))
    assert said[0].startswith(f"{key}: ")


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        (
            "power_w = 60",
            'power_w = "60 W"',
            "warmer.power_w: expected a number, got text in quotes; it is '60 W'.",
        ),
        ("power_w = 60", "power_w = 0", "warmer.power_w: expected a number > 0.0; it is 0."),
        (
            '"whole-rye"',
            '"oat"',
            "scald.flour: write one of “white-wheat”, “whole-wheat”, “whole-rye”; it is 'oat'.",
        ),
    ],
)
def test_a_wrong_value_is_described_in_plain_words(write, old, new, said):
    assert _said(write(GOOD.replace(old, new))) == [said]


def test_where_only_certain_words_may_stand_they_are_listed(write):
    assert _said(write('units = "K"\n' + GOOD)) == ["units: write one of “C”, “F”; it is 'K'."]


@pytest.mark.parametrize("key", ["name", "power_w", "inner_diameter_cm", "flour", "mass_g"])
def test_a_missing_key_is_named(write, key):
    said = _said(write(_without(key)))
    assert said[0].endswith(f".{key}: missing.")


def test_a_warmer_of_no_kind_and_no_heat_capacity_is_told_both_ways_out(write):
    (said,) = _said(write(_without("kind")))
    assert said == (
        "warmer.kind: missing. Write one of “plate”, “jacket”, “box”, “mat”, or give heat_capacity_j_k instead."
    )


def test_a_heat_capacity_stands_in_for_the_kind(write):
    warmer = load(write(GOOD.replace('kind = "mat"', "heat_capacity_j_k = 850"))).settings.warmer
    assert (warmer.kind, warmer.heat_capacity_j_k, warmer.delay_s, warmer.loss_w_k) == (
        None,
        850.0,
        None,
        None,
    )


def test_kind_and_material_are_words_from_a_list(write):
    assert load(write(GOOD)).settings.warmer.kind is Kind.MAT
    said = _said(write(GOOD.replace('"mat"', '"lamp"')))
    assert said == ["warmer.kind: write one of “plate”, “jacket”, “box”, “mat”; it is 'lamp'."]
    said = _said(write(GOOD.replace("= 14\n", '= 14\nmaterial = "wood"\n')))
    assert said[0].startswith("vessel.material: write one of “steel”, “aluminium”, ")


def test_the_example_asks_for_words_and_a_name_plate_only(write):
    text = files("holdctl.config").joinpath("example.toml").read_text("utf-8")
    warmer = load(write(text)).settings.warmer
    assert warmer.kind is Kind.BOX
    assert warmer.heat_capacity_j_k is warmer.delay_s is warmer.loss_w_k is None


def test_a_missing_food_code_lists_the_codes_and_says_who_decides(write):
    (said,) = _said(write(_without("food_code")))
    assert said.startswith("food_code: missing.")
    assert all(code.id in said and code.name in said for code in CODES)
    assert "local authority decides" in said


def test_an_unknown_food_code_lists_the_codes_too(write):
    (said,) = _said(write(GOOD.replace('"uk"', '"atlantis"')))
    assert "atlantis" in said
    assert all(code.id in said for code in CODES)
    assert "local authority decides" in said


BENCH = GOOD.replace('"uk"', '"fda-2022"').replace("mass_g = 900", 'mass_g = 900\nbegins = "chilled"')
BENCH = (
    BENCH[: BENCH.index("[programme")]
    + """\
[programme]
[[programme.step]]
prompt = "use the scald"
[programme.after]
then = "relay-off"
"""
)


@pytest.mark.parametrize("told", ["true", '"from cold"', '"6 h from cold"'])
def test_time_control_wants_a_code_that_has_such_a_rule(write, told):
    assert load(write(f"time_control = {told}\n" + BENCH)).settings.time_control
    (said,) = _said(write(f"time_control = {told}\n" + BENCH.replace('"fda-2022"', '"uk"')))
    assert "has no such rule" in said


def test_time_from_the_cold_wants_a_chilled_scald_and_a_programme_that_stays_under_its_ceiling(write):
    fresh = BENCH.replace('begins = "chilled"\n', "")
    (said,) = _said(write('time_control = "6 h from cold"\n' + fresh))
    assert 'wants `begins = "chilled"`' in said
    warm = BENCH.replace('prompt = "use the scald"', 'to = 65\nfor = "4 h"')
    (said,) = _said(write('time_control = "6 h from cold"\n' + warm))
    assert "heats to 65 °C" in said and "ends above 21 °C" in said
    assert load(write('time_control = "from cold"\n' + warm)).settings.time_control == "from cold"


@pytest.mark.parametrize("text", ["4", "four hours", "4 hours", "-4 h", "0 h", "4 h and a bit", "nan h"])
def test_what_is_no_duration_is_refused_with_how_to_write_one(write, text):
    (said,) = _said(write(GOOD.replace('"4 h"', f'"{text}"')))
    assert said.startswith("programme.step 1.for: ")
    assert "1 h 30 min" in said


def test_contradictions_are_said_with_the_rest(write):
    said = _said(write(GOOD.replace("to = 65", "to = 61") + '\n[programme.after]\nlongest = "soon"\n'))
    assert any("its clock could never run" in text for text in said)
    assert any(text.startswith("programme.after.longest: ") for text in said)


def test_every_problem_is_said_at_once(write):
    bad = (
        GOOD.replace("power_w = 60", 'power_w = "much"')
        .replace("mass_g", "mass_kg")
        .replace("channel = 2", "channel = 9")
    )
    said = _said(write(bad))
    assert [text.split(":")[0] for text in said] == [
        "warmer.power_w",
        "scald.mass_kg",
        "scald.mass_g",
        "probe 2.channel",
    ]


def test_the_head_counts_the_problems(write):
    with pytest.raises(ConfigError, match=r"can't be used \(2 problems\):"):
        load(write(GOOD.replace("power_w", "powr_w")))


def test_no_probe_at_all_and_an_empty_programme_are_refused(write):
    no_probe = re.sub(r"\[\[probe\]\]\n(.*\n)*?\n", "", GOOD)
    assert _said(write(no_probe)) == ["probe: missing."]
    assert _said(write("probe = []\n" + no_probe))[0].startswith("probe: ")


def test_a_line_that_is_no_toml_is_named_with_its_line(write):
    path = write(GOOD.replace("power_w = 60", "power_w = = 60"))
    with pytest.raises(ConfigError, match=r"not valid TOML.*line 6"):
        load(path)


def test_a_file_that_is_no_text_is_refused(write, tmp_path):
    path = tmp_path / "holdctl.toml"
    path.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(ConfigError, match="can't be read"):
        load(path)


def test_a_missing_file_says_how_to_write_one(tmp_path):
    with pytest.raises(ConfigError, match=r"There is no file .*holdctl config --example"):
        load(tmp_path / "none.toml")


def test_the_working_directory_comes_before_the_users_folder(tmp_path, monkeypatch, write):
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "users"))
    users = config_folder()
    assert users.is_relative_to(tmp_path)
    users.mkdir(parents=True)
    here = tmp_path / "here"
    here.mkdir()
    monkeypatch.chdir(here)
    with pytest.raises(ConfigError, match="holdctl demo"):
        find(None)
    (users / "holdctl.toml").write_text(GOOD, "utf-8")
    assert find(None) == users / "holdctl.toml"
    (here / "holdctl.toml").write_text(GOOD, "utf-8")
    assert find(None) == here / "holdctl.toml"


@pytest.mark.parametrize(
    ("name", "stem"), [("Heat mat", "heat-mat"), ("  ../../x ", "x"), ("Öl & Co", "l-co"), ("···", "warmer")]
)
def test_the_record_is_named_after_the_warmer_and_stays_in_its_folder(name, stem):
    path = record_path(name)
    assert path.name == f"{stem}.db"
    assert ".." not in path.parts


_JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=12), inner, max_size=4),
    max_leaves=12,
)
_KEYS = ("food_code", "warmer", "vessel", "scald", "probe", "programme", "port", "limits", "control", "room")


@given(st.dictionaries(st.sampled_from(_KEYS) | st.text(max_size=10), _JSON, max_size=8))
def test_no_table_at_all_breaks_the_search_for_problems(data):
    found = problems(data, Settings)
    assert found, "such a table is never a whole file"
    assert all(isinstance(text, str) and ": " in text for text in found)
