"""The trained reader and its recipe: the grammar of the lines, the split, the file's digest, both keys.

Expected values: the grammar in models/reader/lines.md, the report contract's rule that a stop-level check is confirmed
only by words that assert it, and SHA-256 by hashlib (FIPS 180-4).
"""

from __future__ import annotations

import hashlib
import json
import random
import re
import shutil
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.scripts import script
from voicereport.errors import PackError
from voicereport.paths import models_dir
from voicereport.statements import Reading
from voicereport.statements import reader as reading
from voicereport.statements.keys import load_keys
from voicereport.statements.reader import Mark, Marked, Reader, load_reader
from voicereport.trades import load_trade
from voicereport.transcript import Segment, spread

FOLDER = models_dir() / "reader"
LINES = FOLDER / "lines"
FRIDGE = load_trade("domestic-refrigeration")


RECIPE = script(FOLDER / "recipe.py", "reader_recipe")


@pytest.fixture(autouse=True)
def fresh() -> Iterator[None]:
    """No reader is kept from one test to the next."""
    load_reader.cache_clear()
    yield
    load_reader.cache_clear()


@pytest.fixture(scope="module")
def loaded() -> Reader:
    """The shipped reader, loaded once."""
    with pytest.MonkeyPatch.context() as patch:
        patch.delenv("VOICEREPORT_READER", raising=False)
        load_reader.cache_clear()
        found = load_reader()
        load_reader.cache_clear()
    assert found is not None
    return found


# The grammar of the lines


def test_a_line_with_two_acts() -> None:
    """lines.md: acts are numbered in order; things, holders and counts carry their numbers."""
    raw = (
        "{n1|Two} {p1|screws} {a remove done|out} of the {h1|cover}, and {p2|the cover} is {a remove done|down}."
        " || hands-"
    )
    line = RECIPE.parse(raw)
    assert line.text == "Two screws out of the cover, and the cover is down."
    assert [(line.text[a:b], action, status) for a, b, action, status in line.acts] == [
        ("out", "remove", "done"),
        ("down", "remove", "done"),
    ]
    assert [(line.text[a:b], role, acts) for a, b, role, acts in line.things] == [
        ("Two", "n", [0]),
        ("screws", "p", [0]),
        ("cover", "h", [0]),
        ("the cover", "p", [1]),
    ]
    assert line.checks == {"hands": False}


def test_one_thing_of_two_acts() -> None:
    line = RECIPE.parse("{a loosen done|Freed} and {a remove done|lifted} {p12|the cover}.")
    assert line.things[0][3] == [0, 1]


def test_a_line_of_readings() -> None:
    line = RECIPE.parse("= {s1|Top zone}, {r temperature left|fourteen}. {s2|Bottom}, {r temperature found|eleven}.")
    assert line.kind == "readings"
    assert [(line.text[a:b], q, stage) for a, b, q, stage in line.readings] == [
        ("fourteen", "temperature", "left"),
        ("eleven", "temperature", "found"),
    ]
    assert [(line.text[a:b], of) for a, b, of in line.subjects] == [("Top zone", [0]), ("Bottom", [1])]


@pytest.mark.parametrize(
    ("raw", "kind"),
    [("Plug out.", "full"), ("~ Plug out. || power+", "checks"), ("= Sixteen.", "readings"), ("> Plug.", "context")],
)
def test_kinds_of_lines(raw: str, kind: str) -> None:
    assert RECIPE.parse(raw).kind == kind


@pytest.mark.parametrize(
    ("raw", "fault"),
    [
        ("{a fly done|Up}.", "no such act"),
        ("{a remove maybe|Up}.", "no such act"),
        ("{a remove|Up}.", "no such act"),
        ("{q|Up}.", "no such mark"),
        ("{p|It}.", "no act 1 for 'It'"),
        ("{a remove done|Off} {p2|it}.", "no act 2 for 'it'"),
        ("= {r heat found|ten}.", "no such reading"),
        ("= {r power later|ten}.", "no such reading"),
        ("{r power found|ten}.", "no such reading"),
        ("= {s|Heater}.", "no reading 1 for 'Heater'"),
        ("Plug out. || plug+", "no such check: 'plug+'"),
        ("Plug out. || power", "no such check: 'power'"),
    ],
)
def test_a_fault_is_named(raw: str, fault: str) -> None:
    with pytest.raises(ValueError, match=re.escape(fault)):
        RECIPE.parse(raw)


def test_a_fault_is_told_with_file_and_line(tmp_path: Path) -> None:
    (tmp_path / "own.txt").write_text("# note\nPlug out.\n\n{a fly done|Up}.\n", encoding="utf-8")
    with pytest.raises(ValueError, match=r"^own\.txt:4: no such act"):
        RECIPE.blocks(tmp_path)


def test_a_line_knows_the_line_before_it(tmp_path: Path) -> None:
    (tmp_path / "own.txt").write_text("> Two plugs off.\n# note\nBoth on.\nGood.\n\nAlone.\n", encoding="utf-8")
    first, second = RECIPE.blocks(tmp_path)
    assert [(x.before, x.alone) for x in first] == [("", True), ("Two plugs off.", False), ("Both on.", False)]
    assert [(x.before, x.alone) for x in second] == [("", True)]


def test_the_shipped_lines_have_no_fault() -> None:
    assert sum(len(block) for block in RECIPE.blocks(LINES)) > 10_000


# The split


def test_a_block_is_development_by_its_digest_alone(tmp_path: Path) -> None:
    """lines.md: a block is development where the first 32 bits of the SHA-256 of its text are divisible by ten."""
    texts = [f"Screw number {n} is out." for n in range(200)]
    (tmp_path / "own.txt").write_text("\n\n".join(texts), encoding="utf-8")
    training, development = RECIPE.split(RECIPE.blocks(tmp_path))
    wanted = [t for t in texts if int.from_bytes(hashlib.sha256(t.encode()).digest()[:4], "big") % 10 == 0]
    assert [x.text for x in development] == wanted
    assert wanted
    assert {x.text for x in training} == set(texts) - set(wanted)


def test_other_lines_and_their_order_move_no_block(tmp_path: Path) -> None:
    texts = [f"Clip {n} is off." for n in range(100)]
    parts = []
    for name, order in (("one", texts), ("two", texts[::-1] + [f"More of {n}." for n in range(30)])):
        folder = tmp_path / name
        folder.mkdir()
        (folder / "own.txt").write_text("\n\n".join(order), encoding="utf-8")
        parts.append({x.text for x in RECIPE.split(RECIPE.blocks(folder))[1]} & set(texts))
    assert parts[0] == parts[1]


def test_marks_and_comments_do_not_move_a_block(tmp_path: Path) -> None:
    """The digest is that of the words, so a mark that was put right leaves a block where it is."""
    for name, text in (("a", "Plug out."), ("b", "# note\n{p|Plug} {a isolate done|out}. || power+")):
        (tmp_path / name).mkdir()
        (tmp_path / name / "own.txt").write_text(text, encoding="utf-8")
    assert RECIPE.blocks(tmp_path / "a")[0][0].block == RECIPE.blocks(tmp_path / "b")[0][0].block


def test_context_is_in_neither_part(tmp_path: Path) -> None:
    (tmp_path / "own.txt").write_text("> Before.\nPlug out.", encoding="utf-8")
    training, development = RECIPE.split(RECIPE.blocks(tmp_path))
    assert [x.text for x in (*training, *development)] == ["Plug out."]


# Variations

SPOKEN = [(a.lower(), b.lower()) for a, b in RECIPE.SPOKEN]


def _letters(text: str) -> str:
    """The words of a span without what a variation may change: numbers, marks, short and full forms."""
    text = text.lower()
    for short, full in SPOKEN:
        text = text.replace(full, short) if short != "going to" else text.replace("gonna", "going to")
    words = re.findall(r"[a-z']+|\d+", text)
    kept = [w for w in words if w not in RECIPE.NUMBERS and w not in RECIPE.TENS and not w.isdigit()]
    return " ".join(kept)


MARKED = [
    "I've {a disconnect done|pulled} {n|two} {p|plugs} off the {h|board}, and the {p|earth} too. || connectors-",
    "{n1|Twenty-four} {p1|screws}, {a remove done|out}; {p2|cover}'s {a remove done|off}!",
    "I'm {a refit done|putting} the {p|rear panel} back: {n|six} {p|screws}.",
    "= {s1|Heater}, {r resistance found|forty eight ohms}, {s2|fan}: {r resistance left|two hundred and ten}.",
]


@pytest.mark.parametrize("raw", MARKED)
@settings(max_examples=60, deadline=None, derandomize=True)
@given(seed=st.integers(0, 10_000))
def test_a_variation_keeps_its_marks_on_the_same_words(raw: str, seed: int) -> None:
    line = RECIPE.parse(raw)
    new = RECIPE.varied(line, random.Random(seed), ["Something else."])
    assert len(new.acts) == len(line.acts)
    assert new.checks == line.checks
    for old_spans, new_spans in (
        (line.acts, new.acts),
        (line.things, new.things),
        (line.readings, new.readings),
        (line.subjects, new.subjects),
    ):
        assert len(old_spans) == len(new_spans)
        for old, moved in zip(old_spans, new_spans, strict=True):
            assert old[2:] == moved[2:]
            assert _letters(new.text[moved[0] : moved[1]]) == _letters(line.text[old[0] : old[1]])


def test_variations_vary() -> None:
    line = RECIPE.parse(MARKED[0])
    assert len({RECIPE.varied(line, random.Random(n), ["x"]).text for n in range(50)}) > 3


def test_a_spoken_number_in_digits() -> None:
    line = RECIPE.parse(MARKED[1])
    texts = {RECIPE.varied(line, random.Random(n), ["x"]).text for n in range(50)}
    assert any("24 screws" in t for t in texts)
    assert not any("20" in t for t in texts)


# The file


@pytest.fixture
def own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[[str, bytes | None], Path]:
    """A copy of the reader's folder with one file replaced, or taken away, in the place of the shipped one."""

    def made(name: str, content: bytes | None) -> Path:
        folder = tmp_path / "reader"
        folder.mkdir()
        for part in ("labels.json", "tokenizer.json", "reader.onnx"):
            shutil.copyfile(FOLDER / part, folder / part)
        if content is None:
            (folder / name).unlink()
        else:
            (folder / name).write_bytes(content)
        monkeypatch.setattr(reading, "models_dir", lambda: tmp_path)
        return folder

    return made


def _refused() -> PackError:
    with pytest.raises(PackError) as caught:
        load_reader()
    assert "\n" not in str(caught.value)
    assert caught.value.remedy
    return caught.value


def test_the_labels_name_the_digest_of_the_file() -> None:
    labels = json.loads((FOLDER / "labels.json").read_text(encoding="utf-8"))
    assert labels["sha256"] == hashlib.sha256((FOLDER / "reader.onnx").read_bytes()).hexdigest()
    assert (FOLDER / "reader.onnx").stat().st_size < 30_000_000


def test_labels_and_recipe_agree() -> None:
    labels = json.loads((FOLDER / "labels.json").read_text(encoding="utf-8"))
    assert (labels["actions"], labels["statuses"]) == (RECIPE.ACTIONS, RECIPE.STATUSES)
    assert labels["checks"] == list(RECIPE.CHECKS.values())
    assert labels["quantities"] == RECIPE.QUANTITIES


def test_without_its_file_rules_read_alone(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(reading, "models_dir", lambda: tmp_path)
    assert load_reader() is None


def test_switched_off_rules_read_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("VOICEREPORT_READER", "off")
    assert load_reader() is None


def test_another_file_than_the_labels_name_is_refused(own: Callable[[str, bytes | None], Path]) -> None:
    """One changed bit is enough."""
    content = bytearray((FOLDER / "reader.onnx").read_bytes())
    content[len(content) // 2] ^= 1
    folder = own("reader.onnx", bytes(content))
    error = _refused()
    assert error.place == str(folder / "reader.onnx")
    assert "SHA-256" in error.problem


def test_a_file_cut_short_is_refused(own: Callable[[str, bytes | None], Path]) -> None:
    own("reader.onnx", (FOLDER / "reader.onnx").read_bytes()[:1_000_000])
    _refused()


def test_a_file_that_is_no_model_is_refused_whatever_its_digest(own: Callable[[str, bytes | None], Path]) -> None:
    folder = own("reader.onnx", b"no model")
    labels = json.loads((folder / "labels.json").read_text(encoding="utf-8"))
    labels["sha256"] = hashlib.sha256(b"no model").hexdigest()
    (folder / "labels.json").write_text(json.dumps(labels), encoding="utf-8")
    assert "cannot be loaded" in _refused().problem


@pytest.mark.parametrize("content", [None, b"", b"{", b"[]", b"{}", b"\xff"])
def test_damaged_labels_are_refused(own: Callable[[str, bytes | None], Path], content: bytes | None) -> None:
    folder = own("labels.json", content)
    assert _refused().place == str(folder / "labels.json")


@pytest.mark.parametrize("content", [None, b"", b"{}"])
def test_a_damaged_tokenizer_is_refused(own: Callable[[str, bytes | None], Path], content: bytes | None) -> None:
    own("tokenizer.json", content)
    assert "cannot be loaded" in _refused().problem


# Reading


def test_a_line_reads_the_same_alone_and_after_others(loaded: Reader) -> None:
    """A fresh reader that reads one line, and one that has read others before, in another order."""
    lines = [
        "I pulled the plug out of the wall.",
        "Six screws out of the evaporator cover.",
        "It reads forty eight ohms.",
    ]
    apart = {}
    for line in lines:
        loaded._seen.clear()
        apart[line] = loaded.read(line, "Right.")
    for order in (lines, lines[::-1]):
        loaded._seen.clear()
        for line in order:
            assert loaded.read(line, "Right.") == apart[line]


@pytest.mark.parametrize("line", ["", " ", "...", "…", "ß" * 50, "word " * 400, "\u0000", "{a remove done|x}"])
def test_any_line_can_be_read(loaded: Reader, line: str) -> None:
    marked = loaded.read(line)
    for mark in marked.marks:
        assert 0 <= mark.first < mark.last <= len(line)
    assert all(0 <= chance <= 1 for chance in marked.asserts.values())


def test_apostrophes_read_alike(loaded: Reader) -> None:
    assert loaded.read("The plug’s out.").asserts == loaded.read("The plug's out.").asserts


def test_the_marks_of_a_plain_line(loaded: Reader) -> None:
    line = "I unplugged the evaporator fan harness."
    (mark,) = loaded.read(line).marks
    assert (mark.action, mark.status) == ("disconnect", "done")
    assert [line[a:b] for a, b in mark.things] == ["evaporator fan harness"]


# Both keys


class Said:
    """Stands for the reader: finds the marks that it is given, and asserts with the chance that it is given."""

    reads_values = True

    def __init__(self, mark: Mark, asserts: dict[str, float]) -> None:
        self.marked = Marked(marks=(mark,), asserts=asserts, denies={})

    def read(self, line: str, before: str = "") -> Marked:
        return self.marked


def status_of(line: str, mark: Mark, asserts: dict[str, float]) -> str:
    reader: Any = Said(mark, asserts)
    passage = Reading(FRIDGE, "Cel", reader, load_keys())
    passage.take_segment(Segment(id="s", recording="r", start=0.0, end=4.0, heard=line, text=line,
                               words=spread(line, 0.0, 4.0)), 1)  # fmt: skip
    (act,) = passage.statements().acts
    return act.status


PLUG = "I pulled the plug out of the wall."
PULLED = Mark(action="isolate", status="done", sure=1.0, status_sure=1.0, first=2, last=8, things=((13, 17),))


def test_both_keys_agree() -> None:
    assert status_of(PLUG, PULLED, {"power-isolated": 0.99}) == "done"


@pytest.mark.parametrize("chance", [0.0, 0.3, 0.69])
def test_what_the_reader_does_not_assert_is_unclear(chance: float) -> None:
    """The second key of keys.toml: below `least` the reader disagrees."""
    assert status_of(PLUG, PULLED, {"power-isolated": chance}) == "unclear"


@pytest.mark.parametrize(
    "line",
    ["I think I pulled the plug out.", "He says he pulled the plug out.", "Did I pulled the plug out?",
     "I never pulled the plug out.", "Tomorrow I will have pulled the plug out."],
)  # fmt: skip
def test_what_the_rules_take_back_is_not_done_however_sure_the_reader_is(line: str) -> None:
    """The first key: a hedge, hearsay, a question, a denial or a plan that the rules hear is enough."""
    at = line.index("pulled")
    mark = replace(PULLED, first=at, last=at + 6, things=((at + 11, at + 15),))
    assert status_of(line, mark, {"power-isolated": 1.0}) != "done"


def test_every_stop_level_check_has_a_second_key() -> None:
    """The two keys; the stop-level checks are those of the contract. Below even odds, a key asks nothing."""
    stop = {"power-isolated", "absence-of-voltage-verified", "capacitor-discharged", "water-isolated",
            "refrigerant-recovered", "ignition-sources-cleared", "system-leak-tested", "system-evacuated",
            "connectors-restored", "wiring-restored", "earth-continuity-verified"}  # fmt: skip
    keys = {k.check: k for k in load_keys().keys}
    assert stop <= set(keys)
    assert [c for c in sorted(stop) if keys[c].least < 0.5] == []


@pytest.mark.parametrize(
    ("text", "enough"),
    [
        ("then i switched the breaker off", True),
        ("i ’ve pulled the plug", True),
        ("i switched the breaker off for the hob", False),
        ("i pulled the plug last week", False),
        ("i should have pulled the plug", False),
    ],
)
def test_half_a_chance_is_enough_for_a_sentence_that_says_nothing_else(text: str, enough: bool) -> None:
    key = load_keys().of_act("isolate", "power supply")
    assert key is not None
    assert key.agrees(0.5, text) is enough
    assert key.agrees(0.45, text) is False
    assert key.agrees(key.least, text) is True
