"""A changed campaign over an old results folder: what comes of it is what a fresh folder holds, with fewer flights."""

import dataclasses
import hashlib
import json

import pytest

from sweep.campaign.conditions import list_conditions
from sweep.campaign.costs import with_costs
from sweep.campaign.designs import lay_out
from sweep.flying.full_run import fly_missing
from sweep.flying.work import Work
from sweep.results import claim as beginning
from sweep.results import store
from sweep.results.claim import begin
from sweep.results.fingerprint import flight_keys
from sweep.results.manifest import RaceBudget, read_manifest, write_manifest
from tests.test_workflow import SMALL, Listener, campaign

FLIGHTS = 5 * 2 * 2

CHANGES = {
    "more replicates": (("  replicates: 2\n", "  replicates: 3\n"), FLIGHTS),
    "fewer replicates": (("  replicates: 2\n", "  replicates: 1\n"), FLIGHTS // 2),
    "another heading between": (("[head, following]\n  sp", "[head, beam, following]\n  sp"), FLIGHTS),
    "the headings the other way round": (("[head, following]\n  sp", "[following, head]\n  sp"), FLIGHTS),
    "another speed first": (("speeds: [4 m/s]", "speeds: [5 m/s, 4 m/s]"), FLIGHTS),
    "another level between": (
        ("[40 cm^2, 60 cm^2]", "[40 cm^2, 50 cm^2, 60 cm^2]"),
        FLIGHTS + 4,
    ),  # one of the new ones is the base craft
    "a factor that the base craft fixes": (("factors:\n", "factors:\n  body.mass: [3.06 kg, 3.4 kg]\n"), FLIGHTS),
    "two at once": (
        ("40 cm^2, 60 cm^2]\n  struts.height: [16 cm, 20 cm]", "45 cm^2, 60 cm^2]\n  struts.height: [20 cm, 24 cm]"),
        None,
    ),
}


def changed(change):
    old, new = change
    assert old in SMALL
    return SMALL.replace(old, new)


def flown(tmp_path, folder, text=SMALL, workers=1):
    """Fly a campaign's flights into a folder; what was said and flown."""
    chosen, listener = campaign(tmp_path, text), Listener()
    designs, conditions = lay_out(chosen), list_conditions(chosen)
    folder.mkdir(exist_ok=True)
    listener.said += begin(folder, chosen, with_costs(chosen, designs), conditions)
    fly_missing(Work(chosen, designs, conditions, workers, listener), folder)
    return listener


def held(folder):
    """Digests of all that a results folder holds of its own campaign."""
    paths = (path for path in folder.rglob("*") if path.is_file() and "earlier" not in path.parts)
    skipped = ("manifest.json", ".lock")
    return {
        str(path.relative_to(folder)): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in paths
        if path.name not in skipped
    }


@pytest.fixture(scope="module")
def old(tmp_path_factory):
    """How to have a folder in which the small campaign has been flown."""
    place = tmp_path_factory.mktemp("old")
    flown(place, place / "results")

    def copy(to):
        for path in (place / "results").rglob("*"):
            if path.is_file():
                target = to / path.relative_to(place / "results")
                target.parent.mkdir(parents=True, exist_ok=True)
                target.write_bytes(path.read_bytes())
        return to

    return copy


@pytest.mark.parametrize("name", CHANGES)
def test_a_changed_campaign_comes_to_the_bytes_of_a_fresh_one(old, tmp_path, name):
    change, kept = CHANGES[name]
    folder, text = old(tmp_path / "results"), changed(change)
    listener, fresh = flown(tmp_path, folder, text), flown(tmp_path, tmp_path / "fresh", text)
    assert held(folder) == held(tmp_path / "fresh")
    assert listener.said[0].startswith("The folder is not as this campaign left it (")
    assert f"set aside in {folder / 'earlier' / '1'}" in listener.said[0]
    noted = read_manifest(folder).kept
    assert 0 < noted == (kept or noted)
    assert listener.flights.total() == fresh.flights.total() - noted
    assert f"Of {fresh.flights.total()} flights {noted} are kept from an earlier campaign" in listener.said[1]
    assert not fresh.said


def test_what_differs_is_said(old, tmp_path):
    said = flown(tmp_path, old(tmp_path / "results"), changed(CHANGES["more replicates"][0])).said[0]
    assert "(replicates: was 2, is 3)" in said


def test_whoever_goes_back_flies_nothing(old, tmp_path):
    """Nothing that was flown is lost by a campaign that wants less, or by a typing error."""
    folder = old(tmp_path / "results")
    before = held(folder)
    flown(tmp_path, folder, changed(CHANGES["fewer replicates"][0]))
    listener = flown(tmp_path, folder)
    assert listener.flights.total() == 0
    assert held(folder) == before
    assert sorted(path.name for path in (folder / "earlier").iterdir()) == ["1", "2"]


def test_a_second_change_takes_from_both(old, tmp_path):
    folder = old(tmp_path / "results")
    text = (
        SMALL.replace("[4 m/s]", "[4 m/s, 5 m/s]").replace("16 cm", "18 cm").replace("  replicates: 2\n", "  replicates: 1\n")
    )
    flown(tmp_path, folder, text)
    text = SMALL.replace("[4 m/s]", "[4 m/s, 5 m/s]").replace("[16 cm, 20 cm]", "[16 cm, 18 cm, 20 cm]")
    listener, fresh = flown(tmp_path, folder, text), flown(tmp_path, tmp_path / "fresh", text)
    assert held(folder) == held(tmp_path / "fresh")
    assert listener.flights.total() < fresh.flights.total() - FLIGHTS


@pytest.mark.parametrize(
    ("old_text", "new_text", "named"),
    [
        ("seed: 3", "seed: 4", "flight.seed: was 3, is 4"),
        ("length: 4 s", "length: 5 s", "flight.length: was 4 s, is 5 s"),
        ("speeds: [4 m/s]", "speeds: [4.5 m/s]", "speeds: was [4.0], is [4.5]"),
        ("title: A small one\n", "title: A small one\nwater: {{temperature: 5 degC}}\n", "water.temperature"),
    ],
)
def test_what_shares_no_flight_is_refused(old, tmp_path, old_text, new_text, named):
    folder = old(tmp_path / "results")
    before = held(folder)
    with pytest.raises(store.ChangedCampaignError, match="none of which this one can keep") as refusal:
        flown(tmp_path, folder, SMALL.replace(old_text, new_text))
    assert named in str(refusal.value)
    assert held(folder) == before


def test_a_damaged_shard_of_before_is_not_taken(old, tmp_path):
    folder, text = old(tmp_path / "results"), changed(CHANGES["more replicates"][0])
    path = folder / "flights" / "part-00001.parquet"
    content = bytearray(path.read_bytes())
    content[len(content) // 2] ^= 1
    path.write_bytes(content)
    flown(tmp_path, tmp_path / "fresh", text)
    assert flown(tmp_path, folder, text).flights.total() == FLIGHTS // 2 + 5
    assert held(folder) == held(tmp_path / "fresh")


@pytest.mark.parametrize("text", [SMALL, changed(CHANGES["more replicates"][0])], ids=["back", "on"])
@pytest.mark.parametrize("call", ["write_manifest", "write_keys", "write_table"])
def test_a_change_that_is_cut_off_anywhere_loses_nothing(old, tmp_path, monkeypatch, call, text):
    folder = old(tmp_path / "results")

    def cut(*arguments):
        raise KeyboardInterrupt

    with monkeypatch.context() as patched:
        patched.setattr(beginning, call, cut)
        with pytest.raises(KeyboardInterrupt):
            flown(tmp_path, folder, changed(CHANGES["more replicates"][0]))
    listener = flown(tmp_path, folder, text)
    assert listener.flights.total() == (0 if text == SMALL else FLIGHTS // 2)
    flown(tmp_path, tmp_path / "fresh", text)
    assert held(folder) == held(tmp_path / "fresh")


def test_prices_fly_nothing_and_set_nothing_aside(old, tmp_path):
    folder = old(tmp_path / "results")
    chosen = campaign(tmp_path)
    body = chosen.craft.body.model_copy(update={"price": 999.0})
    dearer = chosen.model_copy(update={"craft": chosen.craft.model_copy(update={"body": body})})
    assert begin(folder, dearer, with_costs(dearer, lay_out(dearer)), list_conditions(dearer)) == []
    assert not (folder / "earlier").exists()


def test_keys_tell_every_craft_and_condition_apart(tmp_path):
    chosen = campaign(tmp_path, SMALL.replace("[4 m/s]", "[4 m/s, 5 m/s]"))
    keys = flight_keys(chosen, lay_out(chosen), list_conditions(chosen))
    assert len(set(keys.designs)) >= 4
    assert len(set(keys.conditions)) == 4
    named = chosen.model_copy(update={"headings": tuple(h.model_copy(update={"name": "x"}) for h in chosen.headings)})
    assert flight_keys(named, lay_out(chosen), list_conditions(named)) == keys


def test_nothing_told_of_the_old_designs_is_left(old, tmp_path):
    """Maps, leaders and changes are told by numbers of designs, which mean others now."""
    folder, text = old(tmp_path / "results"), changed(CHANGES["another level between"][0])
    (folder / "leaders").mkdir()
    for name in (*(f"{table}.parquet" for table in beginning.DERIVED), "standings.csv", "leaders/design-3.parquet"):
        (folder / name).write_bytes(b"of the old designs")
    race = RaceBudget(simulated_seconds=1.0, charged_together=1)
    manifest = dataclasses.replace(read_manifest(folder), map={}, tolerances={}, changes={}, race=race)
    write_manifest(folder, manifest)
    flown(tmp_path, folder, text)
    flown(tmp_path, tmp_path / "fresh", text)
    assert held(folder) == held(tmp_path / "fresh")
    manifests = [json.loads((each / "manifest.json").read_text()) for each in (folder, tmp_path / "fresh")]
    assert manifests[0].keys() - manifests[1].keys() == {"kept"}
