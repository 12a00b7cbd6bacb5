"""The measure of what steps and nights cost: that each part is counted where it belongs."""

import json

from holdsim.bench.cost import main


def test_the_control_step_is_a_part_of_the_whole_step_and_fits_are_none_of_them(capsys):
    assert main(["--hours", "0.1", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert 0.0 < found["control_step_ms"] < found["whole_step_ms"]
    assert found["fits"] >= 2  # after one minute, and again before six have passed
    assert found["longest_fit_s"] * 1000 > 3 * found["whole_step_ms"]
    assert found["night_s"] * 1000 > 300 * found["whole_step_ms"]
