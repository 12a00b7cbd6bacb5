"""What the vigil asks the balance of heat, and says of it; and what a gap begins anew."""

from types import SimpleNamespace

from holdctl.control.residual import Heat
from holdctl.safety.heat import Finding, Look
from tests.closed_loop import instant
from tests.hold.watched import ESTIMATE, reading, texts, values

# Heat -------------------------------------------------------------------------------------------------------------


class Balance:
    """A balance of heat that says what it is told to say."""

    def __init__(self, finding: Finding) -> None:
        self.finding, self.asked, self.forgotten = finding, [], 0
        self.suspects = False

    def look(self, looks, duty, *, learnt):
        self.asked.append((looks, duty, learnt))
        return self.finding

    def at_first(self, looks):
        return "never!" if looks else ""

    def forget(self):
        self.forgotten += 1


HEAT = Heat(60, 4.0, 2.0, -0.2, 0.7, 1.5, 0.4, 8.0, 600)


def test_each_window_of_heat_is_judged_once_with_all_that_is_known_of_it(vigil, controller):
    vigil._heat = balance = Balance(Finding(missing="too little!"))
    controller.estimator.heats = heats = [HEAT]
    vigil._balance()
    vigil._balance()
    assert controller.unsure == ["believed"] * 2, "what the parameters leave open is not taken for heat"
    assert len(balance.asked) == 1
    looks, duty, learnt = balance.asked[0]
    h = HEAT
    assert looks == [
        Look(
            h.window_s,
            h.before + h.heat,
            h.heat / h.sd,
            max(0.0, h.duty),
            h.share,
            h.favour,
            h.heat,
            h.off_k,
            known_s=h.known_s,
        )
    ]
    assert (duty, learnt) == (0.25, True)
    assert controller.estimator.residual.awake is False, "nothing stands: the surest onset is enough"
    balance.suspects = True
    controller.estimator.heats = list(heats)
    vigil._balance()
    assert controller.estimator.residual.awake is True
    balance.suspects = False
    controller.estimator.heats = list(heats)
    controller.estimator.seconds = 1_200.0
    vigil._balance()
    assert balance.asked[2][2] is False
    assert controller.estimator.residual.awake is True, "a young model is looked at whole"
    controller.estimator.heats, controller.estimator.seconds = list(heats), 1_201.0
    controller.estimator.learnt = False
    vigil._balance()
    assert balance.asked[3][2] is False
    found = texts(vigil.paste(values(), ESTIMATE, instant(1000), 1.0))
    assert found["heat-missing"] == "too little!"
    assert controller.touched == controller.taken == []


def test_heat_that_is_plain_is_taken_for_true(vigil, controller):
    vigil._heat = Balance(Finding(plain=True))
    controller.estimator.heats = [HEAT]
    vigil._balance()
    vigil._balance()
    assert controller.taken == [True], "one look is judged once"


def test_where_no_heat_is_known_all_that_was_seen_of_it_is_forgotten(vigil, controller):
    vigil._heat = balance = Balance(Finding())
    controller.estimator.heats = []
    vigil._balance()
    assert (balance.forgotten, balance.asked) == (1, [])


def test_a_dead_heater_is_one_alarm_and_not_missing_heat_too(vigil, controller):
    vigil._finding = Finding(nothing="no heat!", missing="too little!")
    vigil._looked = controller.estimator.heats
    assert texts(vigil.paste(values(), ESTIMATE, instant(1000), 1.0))["heat-missing"] == ""


def test_a_gap_begins_every_watch_anew(vigil, monkeypatch):
    forgotten = []

    def watch(name):
        return SimpleNamespace(forget=lambda: forgotten.append(name))

    vigil._frozen = {1: watch("one"), 2: watch("two")}
    vigil._heat, vigil._acks, vigil._clock = watch("heat"), watch("acks"), watch("clock")
    vigil._followed, vigil._quiet_s = {1: None}, 99.0
    vigil.gap()
    assert sorted(forgotten) == ["acks", "clock", "heat", "one", "two"]
    assert (vigil._followed, vigil._quiet_s) == ({}, 0.0)


def test_a_heater_that_has_never_heated_is_told_as_no_heat(vigil, controller):
    balance = vigil._heat = Balance(Finding())
    controller.estimator.heats, controller.estimator.residual.at_first = [], [HEAT]
    vigil._balance()
    assert texts(vigil.wiring(reading(), 0, instant(1000)))["no-heat"] == "never!"
    controller.estimator.heats, controller.estimator.residual.at_first = [], []
    vigil._balance()
    assert texts(vigil.wiring(reading(), 0, instant(2000)))["no-heat"] == ""
    assert balance.forgotten == 2
