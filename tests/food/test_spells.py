"""Declared spells: what is declared is told apart from an unsafe window."""

import itertools

from hypothesis import given
from hypothesis import strategies as st

from holdctl.food.spells import Spell, SpellKind, spells

COOLING, SOURING = SpellKind.COOLING, SpellKind.SOURING


def test_a_spell_lasts_from_its_declaration_to_its_end():
    found = spells([(10.0, "cooling", True), (50.0, "cooling", False)], 100.0)
    assert found == (Spell(COOLING, 10.0, 50.0),)


def test_a_spell_without_an_end_lasts_as_long_as_its_hold():
    assert spells([(10.0, "souring", True)], 100.0) == (Spell(SOURING, 10.0, 100.0),)


def test_saying_it_again_changes_nothing_and_an_end_without_a_begin_is_none():
    said = [
        (5.0, "souring", False),
        (10.0, "cooling", True),
        (20.0, "cooling", True),
        (30.0, "cooling", False),
    ]
    assert spells(said, 100.0) == (Spell(COOLING, 10.0, 30.0),)


NAMES, TIMES = st.sampled_from(["cooling", "souring"]), st.floats(0, 1000)


@given(st.lists(st.tuples(TIMES, NAMES, st.booleans()), max_size=12))
def test_no_two_spells_of_a_kind_overlap(said):
    found = spells(sorted(said, key=lambda one: one[0]), 1000.0)
    for kind in SpellKind:
        mine = [spell for spell in found if spell.kind is kind]
        assert all(a.end_s <= b.start_s for a, b in itertools.pairwise(mine))
        assert all(spell.start_s <= spell.end_s for spell in mine)
