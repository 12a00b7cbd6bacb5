"""A relay that is shut from the first second, on simulated warmers: no model knows better, and it has to be told."""

import pytest

from holdctl.events import NoticeKind
from tests.closed_loop import loop

pytestmark = pytest.mark.soak


@pytest.mark.parametrize("preset", ["mat-box", "jacket", "lamp-box", "stirred-kettle", "small-pot"])
@pytest.mark.parametrize("start_c", [66.0, 82.0])
def test_with_two_probes_it_is_told_within_six_minutes_from_a_hot_start_too(preset, start_c):
    night = loop(preset, start_c=start_c)
    heat = night.plant.step
    night.plant.step = lambda _on_s: heat(1.0)  # whatever was leased
    while night.t_s < 360 and "heat-unordered" not in [notice.name for notice in night.notices]:
        night.second()
    truth = night.plant.truth()
    print(f"{preset}, {start_c:g} °C: after {night.t_s} s, wall {truth.wall_c:.0f} °C")
    said = [notice for notice in night.notices if notice.kind is NoticeKind.ALARM]
    assert any("pull the plug" in notice.text for notice in said if notice.name == "heat-unordered")
