"""Heats in a folder: what it holds is not flown again."""

from sweep.campaign.conditions import list_conditions
from sweep.campaign.designs import lay_out
from sweep.flying.heats import Heats, heat_of
from sweep.flying.progress import Watcher
from sweep.flying.work import Work
from sweep.results import store
from sweep.results.claim import begin
from sweep.results.identity import flown_keys
from sweep.results.journal import RACE, Decision
from tests.flying.test_flights import campaign


class Counting(Watcher):
    """Counts what is said to be flown."""

    def __init__(self):
        self.pieces = []

    def flown(self, flights):
        self.pieces.append(flights)


def test_a_heat_whose_designs_are_not_in_order_is_not_flown_again(tmp_path):
    chosen = campaign(fly_on="usual")
    designs, conditions = lay_out(chosen), list_conditions(chosen)
    begin(tmp_path, chosen, designs, conditions)
    heat = heat_of(Decision(RACE, "the nearest first", (0, 7, 3), ((0, 0), (1, 0))), 1)
    first = Heats(Work(chosen, designs, conditions), tmp_path, set()).fly(heat)
    sound, aside = store.sound_shards(tmp_path, flown_keys(tmp_path))
    assert (sound, aside) == ({0, 1}, {})
    before = {path: path.stat().st_mtime_ns for path in (tmp_path / "flights").glob("*.parquet")}
    watcher = Counting()
    again = Heats(Work(chosen, designs, conditions, watcher=watcher), tmp_path, sound).fly(heat)
    assert watcher.pieces == [6]
    assert before == {path: path.stat().st_mtime_ns for path in (tmp_path / "flights").glob("*.parquet")}
    assert again.equals(first)
