"""The simulator's truth in a file: of the right hold, of the same moments as the readings."""

from pathlib import Path

import pytest

from holdctl.record.files import TRUTH_COLUMNS, truth_file, truth_head
from holdctl.record.store import Store
from holdsim.__main__ import main
from holdsim.node import SimulatedNode
from holdsim.presets import PRESETS
from holdsim.truth_log import EVERY_S, TruthLog
from tests.record.conftest import HOLD, START_UTC_MS


def test_each_row_is_what_is_true_at_the_reading_of_that_time(tmp_path: Path) -> None:
    record = tmp_path / "night.db"
    with Store.open(record) as store:
        hold = store.begin_hold(**HOLD)
    plant = PRESETS["lamp-box"].build(seed=1, start_c=74.0)
    node = SimulatedNode(plant)
    log, true = TruthLog(node, record), {}
    for second in range(40):
        log(second)
        if second == 20:
            plant.stir()  # after the log: the reading before knew nothing of it
        node.tick()
        node.obeyed = max(node.obeyed, second)
        true[node.up_ms] = plant.truth()
    log.close()
    head, names, *rows = truth_file(record, hold).read_text("utf-8").splitlines()
    assert head == truth_head(hold, START_UTC_MS)
    assert names.split(",") == list(TRUTH_COLUMNS)
    assert [int(row.split(",")[0]) for row in rows] == [1000 * s for s in range(EVERY_S, 40, EVERY_S)]
    for row in rows:
        up_ms, *values = row.split(",")
        now = true[int(up_ms)]
        wanted = (now.coldest_c, now.hottest_c, now.mean_c, now.wall_c)
        assert [float(v) for v in values] == pytest.approx(wanted, abs=0.0005)


def test_a_truth_without_a_record_to_lie_beside_is_refused(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        main(["--preset", "lamp-box", "--truth"])
    assert "--truth needs --record" in capsys.readouterr().err
