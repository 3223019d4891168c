"""What fasteners and plugs belong to, looked for in the lines before.

The sentences are invented. Whether the network is right is measured by `models/reader/pointer.py measure` and by
`voicereport evaluate`; here stands how it is asked and what is made of its answers.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.spoken_jobs import told
from voicereport.errors import PackError
from voicereport.statements import pointing
from voicereport.statements.acts import Memory
from voicereport.statements.holding import pointed_holders
from voicereport.statements.names import Name
from voicereport.statements.placing import Placed
from voicereport.statements.pointing import Line, Mention, Pointed, Pointer, Pointing, load_pointer
from voicereport.statements.reader import Mark, load_reader
from voicereport.statements.settling import owned
from voicereport.statements.tokens import sentences
from voicereport.trades import load_trade
from voicereport.transcript import Segment, spread

TRADE = load_trade("domestic-refrigeration")
MARK = Mark(action="remove", status="done", sure=0.9, status_sure=0.9, first=4, last=7)


class Network:
    """Gives each piece the score of its place in the row, and keeps what it was asked."""

    def __init__(self) -> None:
        self.asked: dict[str, Any] = {}

    def run(self, _names: None, asked: dict[str, Any]) -> list[np.ndarray]:
        self.asked = asked
        return [np.arange(2 + asked["states"].shape[1], dtype=np.float32)[None]]


def line(number: int, pieces: int = 2) -> Line:
    places = tuple((4 * k, 4 * k + 3) for k in range(pieces))
    return Line(number=number, states=np.zeros((pieces, 384), np.float16), places=places)


def name(part: str, kind: str = "part", **more: Any) -> Name:
    return Name(part=part, kind=kind, first=0, last=1, **more)  # type: ignore[arg-type]


def test_the_shares_of_a_line_are_one_chance_with_those_of_nothing_and_never_named() -> None:
    network = Network()
    found = Pointer(network).point([line(0), line(1)], MARK)
    assert found is not None
    raised = np.exp(np.arange(6.0))
    shares = [s for n in (0, 1) for _, _, s in found.shares[n]]
    assert shares == pytest.approx((raised / raised.sum())[2:].tolist(), rel=1e-5)
    assert network.asked["far"].tolist() == [[1, 1, 0, 0]]
    assert network.asked["act"].tolist() == [[0, 0, 0, 1]]
    assert network.asked["at"].tolist() == [[0, 1, 0, 1]]


def test_only_the_last_lines_and_pieces_are_looked_back_on() -> None:
    network = Network()
    found = Pointer(network).point([line(n) for n in range(40)], MARK)
    assert found is not None
    assert sorted(found.shares) == list(range(40 - pointing.LINES, 40))
    found = Pointer(network).point([line(n, pieces=100) for n in range(5)], MARK)
    assert found is not None
    assert sorted(found.shares) == [3, 4]


def test_it_looks_as_far_back_as_it_was_trained_to() -> None:
    recipe = (Path(__file__).parents[1] / "models" / "reader" / "pointer.py").read_text(encoding="utf-8")
    assert f"LINES, PIECES = {pointing.LINES}, {pointing.PIECES}" in recipe


def test_a_mark_without_a_piece_points_nowhere() -> None:
    beyond = Mark(action="remove", status="done", sure=0.9, status_sure=0.9, first=90, last=95)
    assert Pointer(Network()).point([line(0)], beyond) is None


def test_the_network_is_asked_once_a_mark() -> None:
    class Counted(Network):
        times = 0

        def run(self, names: None, asked: dict[str, Any]) -> list[np.ndarray]:
            self.times += 1
            return super().run(names, asked)

    network = Counted()
    at_work = Pointing(Pointer(network), [line(0)])
    assert at_work.toward(MARK) == at_work.toward(MARK)
    assert network.times == 1


def test_a_part_has_the_shares_of_all_its_mentions_and_fasteners_hold_nothing() -> None:
    told_ = Pointed(shares={0: [(0, 3, 0.2), (4, 7, 0.1)], 1: [(0, 3, 0.5)]})
    assert told_.at(Mention(number=0, first=0, last=7, name=name("rear panel"))) == pytest.approx(0.3)
    assert told_.at(Mention(number=2, first=0, last=7, name=name("rear panel"))) == 0

    class Fixed(Pointing):
        def toward(self, mark: Mark) -> Pointed | None:
            return told_

    memory = Memory(
        mentions=[
            Mention(number=0, first=0, last=7, name=name("rear panel")),
            Mention(number=1, first=0, last=3, name=name("rear panel")),
            Mention(number=1, first=0, last=3, name=name("screw", "fastener")),
        ]
    )
    mark = Placed(mark=MARK, first=0, last=1, things=(), holds=(), counts=())
    assert pointed_holders(mark, memory, Fixed(Pointer(Network()), [line(1)])) == {"rear panel": pytest.approx(0.8)}
    assert pointed_holders(mark, memory, None) == {}


def plug(*, pointed: dict[str, float], named: list[str]) -> str:
    words = "And the plug pulled."
    segment = Segment(id="r1s001", recording="r", start=0.0, end=4.0, heard=words, text=words,
                      words=spread(words, 0.0, 4.0))  # fmt: skip
    sentence = next(iter(sentences(segment, 1)))
    spoken = Name(part="plug", kind="connector", first=2, last=3, bare=True)
    return owned(spoken, sentence, TRADE.words, Memory(named=named), "disconnect", pointed).part


def test_a_plug_is_that_of_the_part_pointed_at() -> None:
    named = ["evaporator fan motor", "defrost heater"]
    assert plug(pointed={}, named=named) == "defrost heater plug"
    assert plug(pointed={"evaporator fan motor": 0.8, "defrost heater": 0.1}, named=named) == "evaporator fan plug"


def test_a_part_that_is_hardly_pointed_at_or_has_no_supply_owns_no_plug() -> None:
    named = ["evaporator fan motor", "defrost heater"]
    assert plug(pointed={"evaporator fan motor": 0.4}, named=named) == "defrost heater plug"
    assert plug(pointed={"drain hose": 0.9}, named=named) == "defrost heater plug"


def test_without_its_file_rules_alone_choose(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pointing, "models_dir", lambda: tmp_path)
    load_pointer.cache_clear()
    try:
        assert load_pointer() is None
        steps = told(TRADE, "Unplugged it.", "Rear cover next. Six screws out, and it's off.").steps
        assert [(s.part, s.count, s.holds) for s in steps if s.part == "screw"] == [("screw", 6, "rear cover")]
    finally:
        load_pointer.cache_clear()


def test_a_spoiled_file_is_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "reader").mkdir()
    (tmp_path / "reader" / "pointer.onnx").write_bytes(b"no network")
    monkeypatch.setattr(pointing, "models_dir", lambda: tmp_path)
    load_pointer.cache_clear()
    try:
        with pytest.raises(PackError, match=r"pointer\.onnx"):
            load_pointer()
    finally:
        load_pointer.cache_clear()


@pytest.mark.skipif(load_reader() is None or load_pointer() is None, reason="the pointer reads the reader's states")
def test_a_narration_reads_the_same_every_time() -> None:
    lines = ("Unplugged it.", "Rear cover, six screws, out.", "Fan plug off.", "Two more screws, and the bracket.")
    assert told(TRADE, *lines).steps == told(TRADE, *lines).steps
