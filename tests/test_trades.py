"""Trade packs: they load whole or name every fault; claims are found in the words."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
import yaml  # type: ignore[import-untyped]

from voicereport.errors import PackError
from voicereport.paths import models_dir
from voicereport.trades import Trade, find_claims, list_trades, load_trade

HERE = Path(__file__).parent
SHIPPED = ("dishwashing", "domestic-refrigeration", "laundry")


@pytest.fixture
def packs(tmp_path: Path) -> Path:
    """A folder of packs of one's own: the toy trade, beside the words that all trades share."""
    shutil.copytree(HERE / "data" / "trades" / "bicycles", tmp_path / "bicycles")
    shutil.copytree(models_dir() / "trades" / "common", tmp_path / "common")
    return tmp_path


def _load(name: str, packs: Path) -> Trade:
    return load_trade(name, extra_dirs=(packs,))


@pytest.mark.parametrize("name", SHIPPED)
def test_a_shipped_pack_loads_with_all_checks_of_the_contract(name: str) -> None:
    ids = {entry.id: entry.severity for entry in load_trade(name).entries.entries}
    assert len(ids) == 26  # the report contract, version 1, names these
    assert sum(severity == "stop" for severity in ids.values()) == 11


@pytest.mark.parametrize("name", [*SHIPPED, "bicycles"])
def test_examples_of_claims_are_found_and_counter_examples_are_not(name: str, packs: Path) -> None:
    for rule in _load(name, packs).claims:
        for example in rule.examples:
            assert find_claims(example, [rule]), f"{rule.name}: {example}"
        for example in rule.counter_examples:
            assert not [h for h in find_claims(example, [rule]) if h.polarity == "yes"], f"{rule.name}: {example}"


#: the claims that a check's words must make, where the check rests on claims
CLAIMS = {
    "absence-of-voltage-verified": ("voltage_absent",),
    "capacitor-discharged": ("stored_energy_released",),
    "hands-protected": ("gloves_worn",),
    "heater-cool": ("heater_cool",),
    "refrigerant-recovered": ("refrigerant_recovered",),
    "ignition-sources-cleared": ("area_ventilated", "ignition_absent"),
    "system-leak-tested": ("leak_test_passed",),
    "system-evacuated": ("vacuum_reading",),
    "wiring-restored": ("wiring_as_found",),
    "earth-continuity-verified": ("earth_passed",),
}


def _claimed(say: str, trade: Trade) -> set[str]:
    sentences = [s for s in say.replace("?", ".").split(".") if s.strip()]
    hits = [hit for text in (say, *sentences) for hit in find_claims(text, trade.claims)]
    return {hit.claim for hit in hits if hit.polarity == "yes"}


def test_sentences_that_confirm_make_the_claims_of_their_check() -> None:
    # Source: sentences annotated by others, tests/corpus/shared/sentences.yaml.
    trade = load_trade("domestic-refrigeration")
    rows = yaml.safe_load((HERE / "corpus" / "shared" / "sentences.yaml").read_text(encoding="utf-8"))
    safety = [r for r in rows if r["kind"] == "safety" and r["check"] in CLAIMS]
    confirming = [r for r in safety if r["confirms"]]
    missed = [r["id"] for r in confirming if not set(CLAIMS[r["check"]]) <= _claimed(r["say"], trade)]
    assert len(confirming) > 20
    assert missed == []


def test_the_opposite_and_the_habit_are_told_from_the_claim() -> None:
    trade = load_trade("domestic-refrigeration")
    hits = {h.claim: h.polarity for h in find_claims("Gloves are in the van, I'll be quick.", trade.claims)}
    assert hits["gloves_worn"] == "no"
    hits = {h.claim: h.polarity for h in find_claims("Earth, I normally get about point one on these.", trade.claims)}
    assert hits["earth_passed"] == "unsure"


def test_a_hit_says_where_its_words_stand() -> None:
    trade = load_trade("domestic-refrigeration")
    text = "Right, earth's a pass."
    hit = next(h for h in find_claims(text, trade.claims) if h.claim == "earth_passed")
    assert text[hit.start : hit.end] == hit.words == "earth's a pass"


def test_an_unknown_trade_names_the_known_ones() -> None:
    with pytest.raises(PackError, match="domestic-refrigeration"):
        load_trade("clockmaking")


def test_packs_of_ones_own_are_listed_and_come_first(packs: Path) -> None:
    own = packs / "laundry"
    shutil.copytree(packs / "bicycles", own)
    own_trade = (own / "trade.toml").read_text().replace('"bicycles"', '"laundry"')
    (own / "trade.toml").write_text(own_trade)
    assert set(list_trades(extra_dirs=(packs,))) == {"bicycles", *SHIPPED}
    assert load_trade("laundry", extra_dirs=(packs,)).title == "Bicycles"
    assert load_trade("laundry").title != "Bicycles"


def test_every_fault_is_named_at_once_with_what_is_allowed(packs: Path) -> None:
    pack = packs / "bicycles"
    entries = (pack / "entries.toml").read_text()
    entries = entries.replace('rule = "before"', 'rule = "behind"').replace('severity = "warning"', 'severity = "mild"')
    entries = entries.replace('claim = ["brake_bites"]', 'claim = ["brake_barks"]').replace(
        "counted = true", "count = 1"
    )
    (pack / "entries.toml").write_text(entries)
    (pack / "trade.toml").write_text('id = "bicycles"\ntitle = "Bicycles"\ncolour = "red"\nunits = "stone"\n')
    (pack / "claims.toml").write_text(
        (pack / "claims.toml").read_text().replace("(?:{lever}|brakes?) (?:bites", "((?:bites")
    )
    with pytest.raises(PackError) as caught:
        _load("bicycles", packs)
    said = str(caught.value)
    for fault in (
        "entry 'battery-out': rule 'behind' not known; allowed: before, after, ledger, spoken",
        "entry 'bolts-back': severity 'mild' not known; allowed: stop, warning",
        "entry 'bolts-back': unknown count",
        "'brake_barks' not known; allowed: brake_bites",
        "trade.toml: unknown colour",
        "units 'stone' not known; allowed: metric, us",
        "claim 'brake_bites': patterns",
    ):
        assert fault in said, fault


def test_an_unknown_place_in_a_reason_is_a_fault(packs: Path) -> None:
    path = packs / "bicycles" / "entries.toml"
    path.write_text(path.read_text().replace("before the {what}.", "before the {thing}."))
    with pytest.raises(PackError, match="thing"):
        _load("bicycles", packs)


def test_toml_that_cannot_be_read_is_a_fault(packs: Path) -> None:
    (packs / "bicycles" / "claims.toml").write_text("[[claims]\n")
    with pytest.raises(PackError, match=r"claims\.toml"):
        _load("bicycles", packs)


def test_a_pack_takes_over_the_entries_that_it_includes(packs: Path) -> None:
    trade = load_trade("laundry")
    water = next(e for e in trade.entries.entries if e.id == "water-isolated")
    assert "taps" in water.reasons["missing"]
    assert {c.name for c in load_trade("domestic-refrigeration").claims} == {c.name for c in trade.claims}
