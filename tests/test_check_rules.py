"""Rules of isolation, of refrigerants and of tests after repair, by fragments of a job and by spoken words.

Each has its source beside it: V the text itself was read, S a secondary source was read, M from memory.
"""

from __future__ import annotations

import re
import shutil
from typing import Literal

import pytest
from conftest import ROOT
from spoken_jobs import told

from voicereport.checks import check_report
from voicereport.checks.fragments import report_of
from voicereport.errors import PackError
from voicereport.report import Check, Report
from voicereport.trades import Trade, load_trade

Profile = Literal["US", "UK"]
PROFILES: tuple[Profile, ...] = ("US", "UK")


@pytest.fixture(scope="module")
def fridge() -> Trade:
    return load_trade("domestic-refrigeration")


def check(trade: Trade, name: str, *lines: str, profile: Profile = "US") -> Check:
    report = report_of(lines, trade.words, blanket=trade.entries.blanket)
    return next(c for c in check_report(report, trade, profile=profile).checks if c.id == name)


def state(report: Report, name: str) -> Check:
    return next(c for c in report.checks if c.id == name)


PLUG = ("claim own_plug_out", "isolate power supply", "claim plug_in_sight")
BREAKER = ("claim hard_wired", "isolate power supply", "claim isolated_at_breaker")
DEAD, BEFORE, AFTER = "claim voltage_absent", "claim tester_proved_before", "claim tester_proved_after"
TOUCH = "disconnect supply conductor"
VOLTAGE, POWER, IGNITION = "absence-of-voltage-verified", "power-isolated", "ignition-sources-cleared"

# ------------------------------------------------------------------ isolation: eight jobs as they are told

#: what is said; the check; its state under US and UK rules; words of its reason
TOLD: list[tuple[tuple[str, ...], str, str, str, str]] = [
    (("It's a plug-in freezer.", "I've unplugged it.", "The plug is on my tool bag.", "Took the rear panel off."),
     POWER, "confirmed", "confirmed", "Absence of voltage is not recorded"),
    (("It's hard wired.", "Switched the breaker off.", "Breaker's locked out and tagged.",
      "Discharged the capacitor, it's flat.", "Proved the meter on a live outlet.",
      "Meter on line and neutral, line and earth and neutral and earth, it's dead.",
      "Proved the meter again on the live outlet.", "Took the rear panel off.", "Disconnected the supply wires."),
     VOLTAGE, "confirmed", "confirmed", "tested dead"),
    (("It's hard wired.", "Switched the breaker off.", "Discharged the capacitor, it's flat.", "It's locked out.",
      "Meter on line and neutral, it's dead.", "Took the rear panel off.", "Disconnected the supply wires."),
     VOLTAGE, "confirmed", "unclear", "tester was proved"),
    (("Took the rear panel off.", "Measured the heater.", "Then I switched the breaker off."),
     POWER, "out_of_order", "out_of_order", "only after"),
    (("Turned the thermostat to off.", "Took the rear panel off."),
     POWER, "missing", "missing", "Nobody says"),
    (("I've unplugged it.", "Took the rear panel off.", "Plugged it back in to watch the fan.",
      "Replaced the defrost heater."),
     POWER, "missing", "missing", "Nobody says"),
    (("One eighteen volts at the outlet.", "I've unplugged it.", "Took the rear panel off.",
      "Thirty one ohms on the defrost heater."),
     POWER, "confirmed", "confirmed", "was off before"),
    (("I've unplugged it.", "The run capacitor was already dead.", "Replaced the run capacitor."),
     "capacitor-discharged", "unclear", "unclear", "its voltage"),
]  # fmt: skip


@pytest.mark.parametrize("profile", PROFILES)
@pytest.mark.parametrize("number", range(len(TOLD)))
def test_jobs_as_they_are_told(number: int, profile: Profile, fridge: Trade) -> None:
    """29 CFR 1910.333(b)(2), V, and HSE GS38 practice, S: shut off, isolate, lock and discharge, verify, touch."""
    lines, name, us, uk, words = TOLD[number]
    found = state(told(fridge, *lines, profile=profile), name)
    assert found.state == (us if profile == "US" else uk), found.reason
    if number != 2 or profile == "UK" or "recommended" in found.reason:
        assert words in found.reason


@pytest.mark.parametrize("profile", PROFILES)
def test_volts_on_a_capacitor_are_no_doubt_about_the_supply(profile: Profile, fridge: Trade) -> None:
    """1910.333(b)(2), V: stored energy and the test for dead are two steps; neither reading speaks for the other."""
    lines = (
        *TOLD[1][0][:3],
        *TOLD[1][0][4:7],
        "Capacitor reads nought point four volts.",
        "Replaced the run capacitor.",
    )
    report = told(fridge, *lines, profile=profile)
    assert state(report, VOLTAGE).state == "confirmed"
    assert state(report, "capacitor-discharged").state == "confirmed"


def test_a_live_reading_before_isolation_stays_a_good_reading(fridge: Trade) -> None:
    """The seventh job: 118 V at the outlet are the supply's (ANSI C84.1, M) and no failed test for dead."""
    report = told(fridge, *TOLD[6][0])
    assert state(report, VOLTAGE).state == "not_applicable"
    volts = next(r for r in report.readings if r.quantity == "voltage")
    assert (volts.value, volts.verdict.result) == (118, "within")


# ------------------------------------------------------------------ isolation: locks, testers, order


def test_who_has_the_plug_is_asked(fridge: Trade) -> None:
    """29 CFR 1910.147(a)(2)(iii)(A), S: unplugged and the plug under the worker's control, both."""
    found = check(fridge, POWER, *PLUG[:2], "remove rear panel")
    assert "where the plug lies" in found.reason
    assert "where the plug lies" not in check(fridge, POWER, *PLUG, "remove rear panel").reason


@pytest.mark.parametrize("profile", PROFILES)
def test_a_lock_is_asked_for_on_fixed_equipment_and_never_of_a_plug(fridge: Trade, profile: Profile) -> None:
    """29 CFR 1910.333(b)(2) Note 1, V: locks and tags for fixed equipment; UK practice, S: lock off, keep the key."""
    fixed = check(fridge, POWER, *BREAKER, "remove rear panel", profile=profile)
    locked = check(fridge, POWER, *BREAKER, "claim lock_or_tag", "remove rear panel", profile=profile)
    plug = check(fridge, POWER, *PLUG, "remove rear panel", profile=profile)
    assert ["locked" in c.reason for c in (fixed, locked, plug)] == [True, False, False]
    assert {c.state for c in (fixed, locked, plug)} == {"confirmed"}  # said to be off is off; the lock is asked for


def test_either_procedure_may_be_followed(fridge: Trade) -> None:
    """1910.333(b)(2) Note 2, S: a procedure of 1910.147(c) to (f) does as well; its order is lock, then discharge."""
    for order in (("claim lock_or_tag", "discharge run capacitor"), ("discharge run capacitor", "claim lock_or_tag")):
        lines = (*BREAKER, *order, BEFORE, DEAD, AFTER, "disconnect run capacitor")
        assert check(fridge, VOLTAGE, *lines).state == "confirmed"


@pytest.mark.parametrize("profile", PROFILES)
def test_a_test_for_dead_comes_after_switching_off(fridge: Trade, profile: Profile) -> None:
    """1910.333(b)(2), V: "in the order in which they are presented"; EN 50110-1, S: disconnect, secure, verify."""
    early = ("claim hard_wired", BEFORE, DEAD, AFTER, "isolate power supply", "claim isolated_at_breaker", TOUCH)
    assert check(fridge, VOLTAGE, *early, profile=profile).state == "out_of_order"
    again = (*early[:-1], BEFORE, DEAD, AFTER, TOUCH)
    assert check(fridge, VOLTAGE, *again, profile=profile).state == "confirmed"


@pytest.mark.parametrize(
    ("lines", "uk", "lacking"),
    [
        ((BEFORE, DEAD, AFTER), "confirmed", None),
        ((BEFORE, DEAD, BEFORE), "confirmed", None),  # the same words twice, before and after
        ((DEAD, BEFORE, AFTER), "unclear", "(before the test)"),
        ((BEFORE, AFTER, DEAD), "unclear", "(after the test)"),
        ((BEFORE, DEAD), "unclear", "(after the test)"),
        ((DEAD, AFTER), "unclear", "(before the test)"),
        ((DEAD,), "unclear", "(before, after the test)"),
    ],
)
def test_prove_test_prove(lines: tuple[str, ...], uk: str, lacking: str | None, fridge: Trade) -> None:
    """HSE GS38 practice, S: prove, test dead, prove again. 1910.333(b)(2)(iv)(B), V: required over 600 V only."""
    job = (*BREAKER, *lines, TOUCH)
    assert check(fridge, VOLTAGE, *job, profile="UK").state == uk
    american = check(fridge, VOLTAGE, *job, profile="US")
    assert american.state == "confirmed"
    assert (lacking or "recommended") in american.reason or lacking is None
    assert ("recommended" in american.reason) == (lacking is not None)


def test_a_proof_of_another_visit_is_none(fridge: Trade) -> None:
    """GS38 practice, S: immediately before and after; isolation ends with the visit."""
    lines = (*BREAKER, BEFORE, DEAD, AFTER, TOUCH, "visit 2", *BREAKER, DEAD, "disconnect earth strap")
    assert check(fridge, VOLTAGE, *lines, profile="UK").state == "unclear"


@pytest.mark.parametrize("profile", PROFILES)
def test_a_volt_stick_alone_proves_nothing(fridge: Trade, profile: Profile) -> None:
    """GS38 practice, S: a non-contact pen is not accepted for proving dead."""
    alone = check(fridge, VOLTAGE, *BREAKER, "claim voltage_pen_only", TOUCH, profile=profile)
    assert alone.state == "unclear"
    assert "pen" in alone.reason
    heard = ("It's hard wired.", "Breaker nine is off and locked out.", "Checked it with a volt stick, nothing.",
             "Disconnected the supply wires.")  # fmt: skip
    assert state(told(fridge, *heard, profile=profile), VOLTAGE).state in ("unclear", "missing")


def test_a_volt_stick_that_is_not_used_takes_nothing_back(fridge: Trade) -> None:
    lines = (*BREAKER, BEFORE, DEAD, AFTER, "claim voltage_pen_only not_done", TOUCH)
    assert check(fridge, VOLTAGE, *lines, profile="UK").state == "confirmed"


def test_what_the_uk_asks_of_tester_and_readings(fridge: Trade) -> None:
    """GS38 practice, S: two-pole tester, no ordinary multimeter, bare tips of at most 4 mm, three readings."""
    lines = (*BREAKER, BEFORE, DEAD, AFTER)
    plain = check(fridge, VOLTAGE, *lines, TOUCH, profile="UK")
    assert "line to neutral, line to earth, neutral to earth" in plain.reason
    whole = check(fridge, VOLTAGE, *lines, "claim dead_on_all_poles", TOUCH, profile="UK")
    assert "Three readings" not in whole.reason
    meter = check(fridge, VOLTAGE, *lines, "claim ordinary_multimeter", TOUCH, profile="UK")
    assert (meter.state, "two-pole" in meter.reason) == ("confirmed", True)
    assert "4 mm" in (plain.reference or "")
    assert "multimeter" not in check(fridge, VOLTAGE, *lines, "claim ordinary_multimeter", TOUCH).reason


def test_earthing_and_shorting_is_not_asked_for_at_230_volts(fridge: Trade) -> None:
    """EN 50110-1, M: the fourth of the five rules (S) is left out on low voltage; nothing here asks for it."""
    for profile in PROFILES:
        lines = (*BREAKER, "claim lock_or_tag", BEFORE, DEAD, "claim dead_on_all_poles", AFTER, TOUCH)
        found = check(fridge, VOLTAGE, *lines, profile=profile)
        assert (found.state, "short" in found.reason) == ("confirmed", False)


def test_a_capacitor_near_zero_is_empty_and_one_at_34_volts_is_not(fridge: Trade) -> None:
    """IEC 60335-1 clause 22.5, M: at most 34 V between pins a second after unplugging; that is no discharge."""
    for volts, wanted in ((0.4, "confirmed"), (34, "missing"), (310, "missing")):
        lines = (*PLUG, f"reading voltage {volts} V of run capacitor", "remove run capacitor")
        assert check(fridge, "capacitor-discharged", *lines).state == wanted, volts


# ------------------------------------------------------------------ giving the supply back

JUMPER, NO_JUMPER, ON = "claim jumper_fitted", "claim jumper_removed", "restore_power power supply"


@pytest.mark.parametrize(
    ("lines", "wanted"),
    [
        ((JUMPER, ON), "out_of_order"),
        ((JUMPER, NO_JUMPER, ON), "confirmed"),
        ((JUMPER, ON, NO_JUMPER), "out_of_order"),
        ((NO_JUMPER, JUMPER, ON), "out_of_order"),
        ((JUMPER, ON, "isolate power supply", NO_JUMPER, ON), "confirmed"),
        ((JUMPER, "claim jumper_removed planned", ON), "out_of_order"),
        (("claim jumper_fitted not_done", ON), "confirmed"),
        (("claim jumper_fitted advised", ON), "confirmed"),
        ((JUMPER, "visit 2", "isolate power supply", NO_JUMPER, ON), "confirmed"),
    ],
)
def test_jumpers_are_off_before_the_supply_is_on(lines: tuple[str, ...], wanted: str, fridge: Trade) -> None:
    """29 CFR 1910.333(b)(2)(v)(A), S: tools, jumpers, shorts and grounds are removed before re-energizing."""
    found = check(fridge, "power-restored", "isolate power supply", *lines)
    assert found.state == wanted
    assert ("jumper" in found.reason) == (wanted == "out_of_order")


def test_a_jumper_as_it_is_told(fridge: Trade) -> None:
    """The same rule, in words."""
    start = ("I've unplugged it.", "Jumpered the bimetal to run the heater.")
    left = told(fridge, *start, "Plugged it back in.")
    assert state(left, "power-restored").state == "out_of_order"
    off = told(fridge, *start, "Took the jumper off the bimetal.", "Plugged it back in.")
    assert state(off, "power-restored").state == "confirmed"
    later = told(fridge, *start, "I'll take the jumper off later.", "Plugged it back in.")
    assert state(later, "power-restored").state == "out_of_order"


def test_live_parts_are_covered_while_a_flammable_charge_goes_in(fridge: Trade) -> None:
    """Service annex of IEC 60335-2-40 and -2-89, V: no live parts exposed while charging, recovering or purging."""
    start = ("isolate power supply", "remove compressor cover", "claim flammable_refrigerant")
    open_ = (*start, ON, "charge refrigerant", "reading mass 55 g of refrigerant", "refit compressor cover")
    shut = (*start, "refit compressor cover", ON, "charge refrigerant", "reading mass 55 g of refrigerant")
    assert check(fridge, "power-restored", *open_).state == "out_of_order"
    assert check(fridge, "power-restored", *shut).state == "confirmed"


# ------------------------------------------------------------------ flammable refrigerants

A3 = ("claim flammable_refrigerant", "recover refrigerant", "claim area_ventilated", "claim ignition_absent")
CUT = "cut process tube"


@pytest.mark.parametrize(
    ("act", "wanted", "word"),
    [
        ("claim compressed_air", "contradicted", "oxygen-free nitrogen"),
        ("claim flame_leak_search", "contradicted", "bubbles"),
        ("claim discharged_with_spark", "unclear", "resistor"),
    ],
)
def test_what_a_flammable_refrigerant_forbids(act: str, wanted: str, word: str, fridge: Trade) -> None:
    """Service annex of IEC 60335-2-40 and -2-89, V: no compressed air or oxygen, no halide torch or naked flame to find
    leaks, capacitors discharged without sparking."""
    for lines in ((*A3, act, CUT), (*A3, CUT, act)):
        found = check(fridge, IGNITION, *lines)
        assert (found.state, word in found.reason) == (wanted, True), lines
    assert check(fridge, IGNITION, *A3, f"{act} not_done", CUT).state == "confirmed"
    assert check(fridge, IGNITION, *A3, f"{act} advised", CUT).state == "confirmed"
    assert word in check(fridge, IGNITION, *A3[:2], act, CUT).reason  # said besides what is missing
    assert check(fridge, IGNITION, act, CUT).state == "not_applicable"  # another refrigerant


AIRED = ("It's R six hundred A.", "Both windows are open and there's no flame or spark in the room.",
         "I recovered the charge into the cylinder, forty grams.", "Cut the process tube.")  # fmt: skip


@pytest.mark.parametrize(
    ("line", "wanted"),
    [
        ("Blew the lines through with compressed air.", "contradicted"),
        ("Went round the joints with a halide torch.", "contradicted"),
        ("Purged it with oxygen-free nitrogen.", "confirmed"),
        ("Never use a halide torch on this stuff.", "confirmed"),
        ("Blew the dust off the condenser with compressed air.", "confirmed"),
        ("Looked behind it with my torch.", "confirmed"),
    ],
)
def test_forbidden_acts_as_they_are_told(line: str, wanted: str, fridge: Trade) -> None:
    """The same annex, V, in words; a torch that gives light is no flame."""
    assert state(told(fridge, *AIRED, line), IGNITION).state == wanted


def test_the_purge_comes_before_the_flame(fridge: Trade) -> None:
    """The same annex, V: remove, purge with inert gas, then cut or braze; the older and the newer order alike."""
    flame, purge = "claim flame_on_system", "claim nitrogen_purged"
    for lines, asked in (((purge, flame), False), ((flame,), True), ((flame, purge), True)):
        assert ("before the flame" in check(fridge, IGNITION, *A3, CUT, *lines).reason) == asked, lines


def test_what_else_the_annex_asks_for(fridge: Trade) -> None:
    """The same annex, V: detector, earth bonding; before charging a test with nitrogen, after it a leak test, a label.
    The extinguisher, M."""
    bare = check(fridge, IGNITION, *A3, CUT)
    assert bare.state == "confirmed"
    for word in ("gas detector", "extinguisher", "earth bonding"):
        assert word in bare.reason
    full = (*A3, "claim gas_detector_on", "claim extinguisher_ready", "claim earth_passed", CUT)
    assert "besides" not in check(fridge, IGNITION, *full).reason
    charge = (*A3[:1], "charge refrigerant", "reading mass 55 g of refrigerant")
    lacking = check(fridge, "charge-recorded", *charge)
    assert lacking.state == "confirmed"
    for word in ("before charging", "leak test after", "label"):
        assert word in lacking.reason
    done = (A3[0], "claim nitrogen_tested", *charge[1:], "claim leak_test_passed", "claim system_labelled")
    assert "besides" not in check(fridge, "charge-recorded", *done).reason
    late = (*charge, "claim nitrogen_tested", "claim leak_test_passed", "claim system_labelled")
    assert "before charging" in check(fridge, "charge-recorded", *late).reason


def test_letting_off_a_hydrocarbon_is_no_fault_in_the_us(fridge: Trade) -> None:
    """79 FR 29682, V: R-600a in household appliances is exempt from the ban on venting; other places differ."""
    released = ("claim refrigerant_released", "claim refrigerant_gone", CUT)
    home = check(fridge, "refrigerant-recovered", "claim flammable_refrigerant", *released)
    assert (home.state, "79 FR 29682" in home.reason) == ("unclear", True)
    assert "forbidden" not in home.reason
    other = check(fridge, "refrigerant-recovered", *released)
    assert (other.state, "forbidden" in other.reason) == ("contradicted", True)
    uk = check(fridge, "refrigerant-recovered", "claim flammable_refrigerant", *released, profile="UK")
    assert uk.state == "contradicted"
    # air and ignition sources are asked for all the same
    assert check(fridge, IGNITION, "claim flammable_refrigerant", *released).state == "missing"


def test_letting_off_as_it_is_told(fridge: Trade) -> None:
    """The same rule, in words."""
    gone = ("I've unplugged it.", "It's R six hundred A.", "Let the gas off outside.", "Cut the process tube.")
    assert state(told(fridge, *gone), "refrigerant-recovered").state == "unclear"
    other = ("I've unplugged it.", "It's R one three four A.", *gone[2:])
    assert state(told(fridge, *other), "refrigerant-recovered").state == "contradicted"


# ------------------------------------------------------------------ records of the sealed system


def test_whoever_opens_the_sealed_system_names_the_certificate(fridge: Trade) -> None:
    """40 CFR 82.161, S: persons who service must be certified. UK: fluorinated gases only, S; R-600a is none."""
    name = "refrigerant-recovered"
    for lines in (("recover refrigerant", CUT), (CUT,)):
        assert "82.161" in check(fridge, name, *lines).reason
    assert "certificate" not in check(fridge, name, "claim certificate_named", "recover refrigerant", CUT).reason
    assert "certificate" in check(fridge, name, "recover refrigerant", CUT, profile="UK").reason
    assert "certificate" not in check(fridge, name, *A3, CUT, profile="UK").reason
    assert check(fridge, name, "remove rear panel").state == "not_applicable"
    spoken = told(
        fridge, "My certificate number is four four one seven.", "Recovered the charge.", "Cut the process tube."
    )
    assert any(c.claim == "certificate_named" and c.status == "done" for c in spoken.claims)


def test_a_full_record_of_a_recovery(fridge: Trade) -> None:
    """40 CFR 82.156, S: the share depends on the method and on whether the compressor runs, so both are asked for."""
    half = check(fridge, "refrigerant-recovered", "recover refrigerant", CUT).reason
    assert "how much was recovered" in half
    assert "whether the compressor ran" in half
    lines = ("recover refrigerant", "reading mass 92 g of refrigerant", "claim recovery_method", CUT)
    assert "A full record" not in check(fridge, "refrigerant-recovered", *lines).reason


@pytest.mark.parametrize(
    ("lines", "asked"),
    [
        (("claim triple_evacuation",), True),
        (("claim triple_evacuation", "claim nitrogen_break"), True),
        (("claim nitrogen_break", "claim nitrogen_break", "claim triple_evacuation"), False),
        (("claim triple_evacuation", "claim nitrogen_breaks"), False),
        ((), False),
    ],
)
def test_a_triple_evacuation_has_two_breaks(lines: tuple[str, ...], asked: bool, fridge: Trade) -> None:
    """An equipment manual, S: three pulls, each vacuum but the last broken with dry nitrogen, about 5 psig."""
    found = check(fridge, "system-evacuated", CUT, *lines, "reading vacuum 280 um[Hg]", "charge refrigerant")
    assert found.state == "confirmed"
    assert ("two breaks" in found.reason) == asked


# ------------------------------------------------------------------ tests after a repair


def test_the_earth_is_tested_before_the_insulation(fridge: Trade) -> None:
    """EN 50678, V: visual, protective conductor, insulation, leakage, function; the others presuppose the first."""
    earth, insulation = (
        "reading earth_continuity 0.1 Ohm of cabinet",
        "reading insulation_resistance 20 MOhm of cabinet",
    )
    fitted = "replace defrost heater"
    for lines, asked in (((earth, insulation), False), ((insulation, earth), True)):
        found = check(fridge, "earth-continuity-verified", fitted, *lines)
        assert (found.state, "tested first" in found.reason) == ("confirmed", asked)


def test_insulation_is_asked_for_where_en_50678_holds(fridge: Trade) -> None:
    """EN 50678, V: insulation or leakage after every repair of electrical parts."""
    lines = ("replace defrost heater", "reading earth_continuity 0.1 Ohm of cabinet")
    british = check(fridge, "earth-continuity-verified", *lines, profile="UK")
    assert (british.state, "EN 50678 asks" in british.reason) == ("confirmed", True)
    assert "EN 50678" in (british.reference or "")
    assert "HD 60364-6" in (british.reference or "")
    assert "EN 50678 asks" not in check(fridge, "earth-continuity-verified", *lines).reason
    more = (*lines, "reading insulation_resistance 20 MOhm of cabinet")
    assert "EN 50678 asks" not in check(fridge, "earth-continuity-verified", *more, profile="UK").reason


def test_an_appliance_that_fails_is_disconnected_and_marked(fridge: Trade) -> None:
    """EN 50678:2020, V: interrupt, disconnect and mark as failed where safety is reduced."""
    entry = next(e for e in fridge.entries.entries if e.id == "earth-continuity-verified")
    assert "mark it as failed" in entry.reasons["outside"]
    assert "disconnect" in entry.reasons["outside"]


# ------------------------------------------------------------------ what must not be printed


def _shown() -> str:
    folders = (ROOT / "models" / "trades", ROOT / "templates")
    files = [p for f in folders for p in sorted(f.rglob("*")) if p.suffix in (".toml", ".html", ".typ")]
    return "\n".join(path.read_text(encoding="utf-8") for path in files)


def test_no_record_is_said_to_be_required_that_is_not(fridge: Trade) -> None:
    """No federal record of quantities was found up to 5 lb of charge; section 608 must not be said to ask for it."""
    assert not re.search(r"required (?:by|under)[^\n]{0,40}(?:608|40 CFR)", _shown())
    assert "asks for no record" in next(e for e in fridge.entries.entries if e.id == "charge-recorded").references["US"]


def test_hydrocarbons_are_no_f_gases(fridge: Trade) -> None:
    """Regulation (EU) 2024/573, annexes, S: R-600a and R-290 are not fluorinated."""
    charge = next(e for e in fridge.entries.entries if e.id == "charge-recorded")
    assert "no F-gases" in charge.references["UK"]


@pytest.mark.parametrize("path", ["tests", "models/trades", "voicereport"])
def test_the_clauses_of_annex_10_are_not_mixed_up(path: str) -> None:
    """ICAO Annex 10 Vol. II, V: 5.2.1.3 is the clause of spelling, 5.2.1.4 of numbers; some texts mix them up."""
    for file in sorted((ROOT / path).rglob("*")):
        if file.suffix not in (".py", ".toml") or "corpus" in file.parts or file.name == "test_check_rules.py":
            continue
        for line in file.read_text(encoding="utf-8").splitlines():
            if "5.2.1.3" in line:
                assert re.search("alphabet|spelling", line), f"{file}: {line}"
            if "5.2.1.4" in line:
                assert re.search(r"digit|number|5\.2\.1\.4\.", line, re.IGNORECASE), f"{file}: {line}"


# ------------------------------------------------------------------ the grammar of extras


@pytest.mark.parametrize(
    ("extra", "fault"),
    [
        ("text = 'x'\nneeds = [{claim = ['brake_bites']}]\ntimes = 0", "times 0 must be a whole number"),
        ("text = 'x {what}'", "unknown ['what']"),
        ("text = 'x'\nneeds = [{claim = ['brake_bites']}]\nasks = [{text = 'y'}]", "needs or asks, not both"),
        ("text = 'x'\nasks = [{text = 'y'}]", "each of asks needs needs and text"),
        ("when = []", "an extra needs text"),
    ],
)
def test_a_faulty_extra_is_named(extra: str, fault: str, tmp_path_factory: pytest.TempPathFactory) -> None:
    folder = tmp_path_factory.mktemp("packs")
    shutil.copytree(ROOT / "tests" / "data" / "trades" / "bicycles", folder / "bicycles")
    shutil.copytree(ROOT / "models" / "trades" / "common", folder / "common")
    path = folder / "bicycles" / "entries.toml"
    text = path.read_text(encoding="utf-8")
    first = text.index("[[entries.examples]]")
    path.write_text(f"{text[:first]}[[entries.extras]]\n{extra}\n{text[first:]}", encoding="utf-8")
    with pytest.raises(PackError, match=re.escape(fault)):
        load_trade("bicycles", extra_dirs=(folder,))
