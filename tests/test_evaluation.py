"""The evaluation is right only if it can fail: each test makes an error and looks for it in the score."""

from __future__ import annotations

import copy
from pathlib import Path

import pytest
from gold_reports import confirming_report, perfect_answer, perfect_report

from voicereport.errors import SettingsError, TranscriptError
from voicereport.evaluation import run, text
from voicereport.evaluation.corpus import read_corpus, to_transcript, units_of
from voicereport.evaluation.figures import binomial_interval, bootstrap_interval
from voicereport.evaluation.matching import Row, Tally, compare, pair
from voicereport.evaluation.names import Names, identity, number, same_value
from voicereport.evaluation.narrations import NarrationsScore, score_narrations
from voicereport.evaluation.reported import Reported
from voicereport.evaluation.sentences import score_sentences
from voicereport.evaluation.tables import load_tables
from voicereport.evaluation.thresholds import lowered, read_thresholds, shortfalls
from voicereport.settings import load_settings

CORPUS = read_corpus(Path(__file__).parent / "corpus" / "shared")
NAMES = Names()


def perfect() -> dict[str, Row]:
    return {n.name: copy.deepcopy(perfect_report(n.gold)) for n in CORPUS.narrations}


def scored(reports: dict[str, Row]) -> NarrationsScore:
    return score_narrations(CORPUS.narrations, reports, NAMES)


def step_f1(score: NarrationsScore) -> float:
    f1 = score.styles["overall"].tallies["steps"].f1
    assert f1 is not None
    return f1


# ---------------------------------------------------------------- narrations


def test_a_perfect_report_has_full_marks() -> None:
    score = scored(perfect())
    overall = score.styles["overall"]
    assert {t.f1 for t in overall.tallies.values()} == {1.0}
    assert all(share.right == share.of > 0 for share in overall.details.values())
    assert overall.fasteners.right == overall.fasteners.of > 0
    assert overall.status.right == overall.status.of == len(CORPUS.narrations)
    assert overall.states.right == overall.states.of == len(CORPUS.narrations) * len(load_tables().checks)
    assert [*score.false_confirms, *score.false_alarms, *score.waived, *score.problems, *score.missing] == []


def test_a_report_that_is_missing_counts_as_empty_and_is_named() -> None:
    reports = perfect()
    del reports["d03"]
    score = scored(reports)
    assert score.missing == ("d03",)
    assert score.narrations["d03"].tallies["steps"].hit == 0
    assert step_f1(score) < 1


def test_confirming_everything_is_caught_as_stop_level_false_confirms() -> None:
    score = scored({n.name: confirming_report(n.gold) for n in CORPUS.narrations})
    stop = load_tables().stop
    wrong = sum(n.gold["checks"][c] != "confirmed" and "confirmed" not in n.gold.get("also_ok", {}).get(c, [])
                for n in CORPUS.narrations for c in stop)  # fmt: skip
    assert sum(w.stop for w in score.false_confirms) >= wrong > 50
    assert score.styles["overall"].false_confirms == len(score.false_confirms)


def test_no_alternative_confirms_a_stop_level_check_that_the_gold_finds_lacking() -> None:
    narration = CORPUS.narrations[0]
    gold = copy.deepcopy(narration.gold)
    gold["checks"]["power-isolated"] = "missing"
    gold["also_ok"] = {"power-isolated": ["confirmed", "unclear"]}
    report = perfect_report(narration.gold)
    from dataclasses import replace

    score = score_narrations([replace(narration, gold=gold)], {narration.name: report}, NAMES)
    assert [w.check for w in score.false_confirms] == ["power-isolated"]


@pytest.mark.parametrize(
    ("key", "change", "metric"),
    [
        ("steps", {"status": "retracted"}, "steps"),
        ("steps", {"action": "other", "part": "zeppelin"}, "steps_loose"),
        ("readings", {"value": 99999.0, "qualifier": "exact"}, "readings"),
        ("readings", {"unit": "zz"}, "readings"),
        ("readings", {"stage": "nowhere"}, "readings_full"),
        ("parts_used", {"part": "zeppelin"}, "parts_used"),
        ("parts_used", {"part_number": "WRONG"}, "parts_used_full"),
        ("notes", {"kind": "nothing"}, "notes"),
    ],
)
def test_one_wrong_item_costs_one_hit(key: str, change: Row, metric: str) -> None:
    reports = perfect()
    narration = next(n for n in CORPUS.narrations if any(not item.get("optional") for item in n.gold[key]))
    name, items = narration.name, narration.gold[key]
    said = zip(items, reports[name][key], strict=True)
    reports[name][key] = [reported for item, reported in said if not item.get("optional")]
    before = scored(reports).styles["overall"].tallies[metric].hit
    reports[name][key][0] |= change
    assert scored(reports).styles["overall"].tallies[metric].hit == before - 1


def test_a_fastener_total_that_is_one_off_is_not_exact() -> None:
    reports = perfect()
    name = next(n.name for n in CORPUS.narrations if n.gold["fasteners"])
    reports[name]["ledger"]["items"][0]["count_in"] += 1
    score = scored(reports)
    assert score.narrations[name].fasteners_exact is False
    assert score.styles["overall"].fasteners.right == score.styles["overall"].fasteners.of - 1


def test_an_open_item_that_is_left_out_is_missed() -> None:
    reports = perfect()
    name = next(n.name for n in CORPUS.narrations if n.gold["open"])
    reports[name]["ledger"]["open"].pop()
    assert len(scored(reports).narrations[name].misses["open"].missed) == 1


def test_an_optional_step_is_neither_rewarded_nor_punished() -> None:
    reports = perfect()
    narration = next(n for n in CORPUS.narrations if any(s.get("optional") for s in n.gold["steps"]))
    keep = [i for i, s in enumerate(narration.gold["steps"]) if not s.get("optional")]
    steps = reports[narration.name]["steps"]
    reports[narration.name]["steps"] = [steps[i] for i in keep]
    assert step_f1(scored(reports)) == 1


def test_a_step_said_twice_is_spurious_once() -> None:
    reports = perfect()
    reports["d01"]["steps"].append({"action": "isolate", "part": "power supply", "status": "done"})
    assert scored(reports).narrations["d01"].misses["steps"].spurious == ("isolate power supply done",)


def test_what_cannot_be_used_is_named() -> None:
    reports: dict[str, Row] = perfect()
    reports["d01"]["steps"] = "none"
    reports["d02"]["readings"].append({"quantity": "voltage", "value": 1, "unit": "volts"})
    reports["d03"]["checks"].append({"id": "tea-made", "state": "confirmed"})
    reports["d04"]["schema_version"] = "2.0"
    problems = "\n".join(scored(reports).problems)
    for named in ("d01: steps is not a list", "d02: unit 'volts'", "d03: check 'tea-made'", "d04: schema_version"):
        assert named in problems


# ---------------------------------------------------------------- sentences


def test_perfect_answers_have_full_marks() -> None:
    score = score_sentences(CORPUS.sentences, {s["id"]: perfect_answer(s) for s in CORPUS.sentences}, NAMES)
    assert {t.f1 for t in score.tallies.values()} == {1.0}
    assert all(share.right == share.of > 0 for share in score.exact.values())
    assert [*score.false_confirms, *score.missed_confirms, *score.missing, *score.problems] == []


def test_no_answer_is_never_right_and_an_empty_one_can_be() -> None:
    silent = score_sentences(CORPUS.sentences, {}, NAMES)
    assert len(silent.missing) == len(CORPUS.sentences)
    assert all(share.right == 0 for share in silent.exact.values())
    empty = score_sentences(CORPUS.sentences, {s["id"]: {} for s in CORPUS.sentences}, NAMES)
    assert empty.exact["safety"].right == sum(s["kind"] == "safety" and not s["confirms"] for s in CORPUS.sentences)
    assert empty.exact["status"].right == 0


def test_confirming_every_sentence_lists_each_that_must_not_pass() -> None:
    answers = {s["id"]: {"checks": [{"id": s.get("check"), "state": "confirmed"}]} for s in CORPUS.sentences}
    score = score_sentences(CORPUS.sentences, answers, NAMES)
    must_not = {s["id"] for s in CORPUS.sentences if s["kind"] == "safety" and not s["confirms"]}
    assert {row["id"] for row in score.false_confirms} == must_not
    assert score.tallies["safety"].recall == 1


def test_a_second_step_in_a_status_answer_is_not_wholly_right() -> None:
    sentence = next(s for s in CORPUS.sentences if s["kind"] == "status")
    answer = perfect_answer(sentence)
    answer["steps"].append({"action": "clean", "part": "drain trough", "status": "done"})
    score = score_sentences([sentence], {sentence["id"]: answer}, NAMES)
    assert score.exact["status"].right == 0
    assert score.tallies["status"].recall == 1


# ---------------------------------------------------------------- matching, names, amounts


def test_pairing_makes_room_where_the_first_match_would_block_another() -> None:
    assert pair(["ab", "a"], ["a", "b"], lambda g, s: s in g) == {0: 1, 1: 0}


def test_optional_items_account_for_what_was_said() -> None:
    tally, misses = compare([{"x": 1}, {"x": 2, "optional": True}], [{"x": 2}], lambda g, s: g["x"] == s["x"])
    assert tally == Tally(hit=0, gold=1, said=0)
    assert len(misses.missed) == 1
    assert not misses.spurious


@pytest.mark.parametrize(
    ("a", "b"),
    [
        ("the rear panel", "back panels"),
        ("evaporator fan", "evap fan motor"),
        ("six screws", "screw"),
        ("defrost heater plug", "defrost heater connector"),
    ],
)
def test_two_names_of_one_thing(a: str, b: str) -> None:
    assert NAMES.same(a, b)


@pytest.mark.parametrize(
    ("a", "b"),
    [
        ("defrost heater", "defrost heater cover"),
        ("upper evaporator fan harness", "lower evaporator fan harness"),
        ("rear panel", "front panel"),
        ("", "screw"),
    ],
)
def test_two_things(a: str, b: str) -> None:
    assert not NAMES.same(a, b)


def test_some_names_count_beside_one_action_only() -> None:
    assert NAMES.same("power supply", "cord", "isolate")
    assert not NAMES.same("power supply", "cord", "clean")


# NIST SP 811 (2008), appendix B.8: psi 6.894 757 kPa, inch of mercury 3.386 389 kPa, ounce 28.349 52 g,
# degree Fahrenheit T/°C = (t/°F − 32)/1.8, micrometre of mercury 0.133 322 4 Pa.
@pytest.mark.parametrize(
    ("a", "unit_a", "b", "unit_b"),
    [
        (145.0, "[psi]", 999.74, "kPa"),
        (29.9, "[in_i'Hg]", 101.253, "kPa"),
        (2.0, "[oz_av]", 56.699, "g"),
        (0.0, "[degF]", -17.7778, "Cel"),
        (500.0, "um[Hg]", 66.66, "Pa"),
        (1.5, "kOhm", 1500.0, "Ohm"),
    ],
)
def test_equal_amounts_in_two_units(a: float, unit_a: str, b: float, unit_b: str) -> None:
    assert same_value(a, unit_a, b, unit_b)
    assert same_value(b, unit_b, a, unit_a)
    assert not same_value(a + 10, unit_a, b, unit_b)


def test_a_temperature_difference_has_no_zero() -> None:
    assert same_value(9, "[degF]", 5, "K", difference=True)
    assert not same_value(9, "[degF]", 5, "K")


def test_no_number_is_no_amount() -> None:
    assert number(True) is None
    assert number(float("nan")) is None
    assert not same_value("4", "V", 4, "V")


def test_identifiers_are_compared_by_letters_and_digits() -> None:
    assert identity("qz418-n") == identity("QZ 418 N")
    assert identity("QZ418N") != identity("QZ418M")


def test_an_item_is_named_as_the_gold_names_it() -> None:
    ledger = {"items": [{"id": "a", "part": "screw", "kind": "fastener", "holds": "rear panel"},
                        {"id": "b", "part": "evaporator fan", "kind": "connector"},
                        {"id": "c", "part": "fan harness", "kind": "connector"}],
              "open": ["a", {"id": "b"}, "c"]}  # fmt: skip
    names = [row["part"] for row in Reported({"ledger": ledger}, "x", lambda _: None).open_items()]
    assert names == ["rear panel screw", "evaporator fan connector", "fan harness"]


# ---------------------------------------------------------------- intervals and thresholds


# The usual table of exact binomial limits, 95 %, as any statistics package prints them (values from memory).
@pytest.mark.parametrize(
    ("hits", "of", "low", "high"),
    [(0, 10, 0.0, 0.3085), (1, 10, 0.0025, 0.4450), (5, 10, 0.1871, 0.8129), (10, 10, 0.6915, 1.0)],
)
def test_the_interval_of_a_count_is_the_exact_one(hits: int, of: int, low: float, high: float) -> None:
    assert binomial_interval(hits, of) == pytest.approx((low, high), abs=1e-4)


def test_the_bootstrap_agrees_with_the_normal_interval_of_a_large_sample() -> None:
    low, high = bootstrap_interval([(1.0, 1.0)] * 300 + [(0.0, 1.0)] * 100)
    half = 1.96 * (0.75 * 0.25 / 400) ** 0.5
    assert (low, high) == pytest.approx((0.75 - half, 0.75 + half), abs=0.006)
    assert (low, high) == bootstrap_interval([(1.0, 1.0)] * 300 + [(0.0, 1.0)] * 100)


def test_thresholds_are_read_and_held(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(run, "report_of", lambda narration, _: perfect_report(narration.gold))
    monkeypatch.setattr(run, "answer_of", lambda sentence, _: perfect_answer(sentence))
    monkeypatch.setattr(run, "_load_trades", lambda _: None)
    result = run.evaluate(CORPUS, load_settings(environment={}))
    file = tmp_path / "thresholds.toml"
    file.write_text("[shared]\nstep_f1 = 1.0\nstop_false_confirms = 0\n", encoding="utf-8")
    assert shortfalls(result.figures, read_thresholds(file, "shared")) == ()
    assert shortfalls(result.figures, {"unheard_of": 0.5}) == ("unheard_of was not measured; its threshold is 0.5",)
    with pytest.raises(SettingsError, match="no table \\[other\\]"):
        read_thresholds(file, "other")
    assert {f.value for f in result.figures if not f.counts} == {1.0}
    assert all(line == line.rstrip() for line in text.lines_of(result, misses=True) if "  " not in line[-2:])
    assert text.json_of(result)["figures"][0]["name"] == "stop_false_confirms"


def test_a_figure_below_its_threshold_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(run, "report_of", lambda narration, _: confirming_report(narration.gold))
    monkeypatch.setattr(run, "answer_of", lambda _sentence, _: {})
    monkeypatch.setattr(run, "_load_trades", lambda _: None)
    result = run.evaluate(CORPUS, load_settings(environment={}))
    found = shortfalls(result.figures, {"stop_false_confirms": 0, "sentence_status_right": 0.9, "step_f1": 0.9})
    assert len(found) == 2
    assert "stop_false_confirms is" in found[0]
    assert "sentence_status_right is 0.0000, below 0.9000" in found[1]


def test_a_threshold_that_was_loosened_or_dropped_is_named() -> None:
    before = {"shared": {"step_f1": 0.9, "stop_false_confirms": 0.0, "open_f1": 0.8}}
    after = {"shared": {"step_f1": 0.89, "stop_false_confirms": 1.0}}
    assert len(lowered(before, after)) == 3
    assert lowered(before, {"shared": {"step_f1": 0.91, "stop_false_confirms": 0.0, "open_f1": 0.8}}) == ()


# ---------------------------------------------------------------- the corpus


def test_a_narration_becomes_one_segment_a_line() -> None:
    narration = CORPUS.narrations[0]
    transcript = to_transcript(narration)
    assert [s.text for s in transcript.segments] == [words for _, words in narration.lines]
    assert transcript.segments[0].end == transcript.segments[1].start
    assert all(len(s.words) == len(s.text.split()) for s in transcript.segments)


def test_american_voices_leave_us_units_unspoken() -> None:
    assert units_of("am_michael", "metric") == "us"
    assert units_of("bf_emma", "us") == "metric"
    assert units_of("", "us") == "us"


@pytest.mark.parametrize(
    ("content", "problem"),
    [
        ("id: a\n", "lacks trade"),
        ("- {id: s1, say: hello}\n", "is no mapping"),
        ("a: [\n", "cannot be read"),
    ],
)
def test_a_narration_that_cannot_be_used_is_named(tmp_path: Path, content: str, problem: str) -> None:
    (tmp_path / "x01.yaml").write_text(content, encoding="utf-8")
    with pytest.raises(TranscriptError, match=problem):
        read_corpus(tmp_path)


def test_a_folder_without_a_corpus_is_refused(tmp_path: Path) -> None:
    with pytest.raises(TranscriptError, match="holds no narrations"):
        read_corpus(tmp_path)
    with pytest.raises(TranscriptError, match="is no folder"):
        read_corpus(tmp_path / "nowhere")


def test_a_sentence_id_that_stands_twice_is_refused(tmp_path: Path) -> None:
    row = '- {id: s1, say: "plug out", kind: safety, check: power-isolated, confirms: true}\n'
    (tmp_path / "sentences-a.yaml").write_text(row, encoding="utf-8")
    (tmp_path / "sentences-b.yaml").write_text(row, encoding="utf-8")
    with pytest.raises(TranscriptError, match="s1"):
        read_corpus(tmp_path)
