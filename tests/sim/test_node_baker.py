"""The simulated baker answers prompts at fixed simulated times."""

from types import SimpleNamespace

import pytest

from holdctl.settings import Lid
from holdsim.baker import LONGEST_STIR_S, Baker, Prompt


class Vessel:
    """Falls 0.1 K with each stir."""

    def __init__(self, mean_c=82.0):
        self.mean_c = mean_c
        self.log = []
        self.second = 0

    def stir(self):
        self.mean_c -= 0.1
        self.log.append((self.second, "stir"))

    def set_lid(self, lid):
        self.log.append((self.second, lid))

    def truth(self):
        return SimpleNamespace(mean_c=self.mean_c)


def lived(prompts, seconds=3000, starts_at=5, mean_c=66.55, visible_after_s=1, reaction_s=120):
    """Let `seconds` pass over a record that shows a prompt a little late; return what was done."""
    vessel, answers = Vessel(mean_c), []

    def look(after_seq):
        now_ms = (vessel.second - starts_at - visible_after_s) * 1000
        return [p for p in prompts if p.seq > after_seq and p.hold_ms <= now_ms]

    baker = Baker(
        vessel,
        Lid.INSULATED,
        look,
        lambda prompt: answers.append((vessel.second, prompt.seq)),
        lambda: vessel.second >= starts_at,
        reaction_s,
    )
    for second in range(seconds):
        vessel.second = second
        baker.act(second)
    return vessel.log, answers


PROMPT = Prompt(seq=7, hold=1, hold_ms=600_000, detail={"to": 66.0})


def test_a_prompt_is_answered_after_lid_off_stirring_down_and_lid_on():
    log, answers = lived([PROMPT])
    begin = 5 + 600 + 120
    assert log[0] == (begin, Lid.OFF)
    assert [what for _, what in log[1:-1]] == ["stir"] * 6
    assert [when for when, what in log if what == "stir"] == list(range(begin, begin + 6))
    assert log[-1] == (begin + 5, Lid.INSULATED)
    assert answers == [(begin + 5, 7)]


@pytest.mark.parametrize("visible_after_s", [0, 1, 30, 59])
def test_when_the_record_is_read_does_not_change_when_the_baker_acts(visible_after_s):
    assert lived([PROMPT], visible_after_s=visible_after_s) == lived([PROMPT])


@pytest.mark.parametrize("detail", [{}, {"to": None}, {"to": 90.0}])
def test_a_prompt_without_a_temperature_to_reach_takes_one_stir(detail):
    log, answers = lived([Prompt(7, 1, 600_000, detail)])
    assert [what for _, what in log] == [Lid.OFF, "stir", Lid.INSULATED]
    assert len(answers) == 1


def test_stirring_that_leads_nowhere_ends():
    _, answers = lived([Prompt(7, 1, 0, {"to": -300.0})], seconds=LONGEST_STIR_S + 400)
    assert answers == [(5 + 120 + LONGEST_STIR_S, 7)]


def test_two_prompts_are_answered_in_turn_and_each_once():
    _, answers = lived([PROMPT, Prompt(9, 1, 601_000, {})])
    assert [seq for _, seq in answers] == [7, 9]


def test_a_short_reaction_is_kept_by_looking_more_often():
    _, answers = lived([PROMPT], reaction_s=20, mean_c=60.0)
    assert answers == [(5 + 600 + 20, 7)]


def test_before_the_hold_has_begun_the_baker_does_nothing():
    assert lived([PROMPT], starts_at=10_000) == ([], [])


@pytest.mark.parametrize("reaction_s", [2, 3, 20])
def test_a_short_reaction_is_kept_even_when_the_record_is_a_second_late(reaction_s):
    whens = {lived([PROMPT], reaction_s=reaction_s, visible_after_s=late)[1][0][0] for late in (0, 1)}
    assert len(whens) == 1
