"""Sentences that sound like what a stop-level check asks for, and do not assert it; and ones that do.

The lines are invented; what each asserts or does not is how the trade speaks: common practice, no source. The highest
earth resistance of any cord, 1 ohm, is EN 50678's.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import pytest

from voicereport.explain import answer
from voicereport.statements.reader import load_reader
from voicereport.trades import load_trade

FRIDGE = load_trade("domestic-refrigeration")

#: what was said before, where a check counts what came apart
BEFORE = {
    "connectors-restored": "Three plugs came off the board.",
    "wiring-restored": "I pulled the wires out of their clips.",
}

NOT_ASSERTED: dict[str, list[Any]] = {
    "power-isolated": [
        "plug's out on the immersion",
        "locked off the wrong breaker",
        "plug pulled halfway out",
        "unplugged the modem",
        "I pulled the plug on the whole idea",
        "breaker nine's off but it's fed from ten",
        "she has it knocked off at the wall most nights",
        "I'd the plug out a while ago and the child stuck it back in",
        "lights went out so it must be off",
    ],
    "water-isolated": [
        "outside tap's off",
        "stopcock closed three quarters",
        "the tap closed in my hand, stem's snapped",
        "water turned off for non payment",
        "tap's closed off to me, that's the landlord's department",
        "tap's off for the hot, cold is shared with the flat above",
    ],
    "absence-of-voltage-verified": [
        "meter shows nothing, leads were in the amps jack",
        "tested dead on the plug I'd just pulled, not on the terminals",
        "measured dead on one phase",
        "checked for dead, got sixty volts",
    ],
    "capacitor-discharged": [
        "capacitor is dead, no capacitance at all",
        "capacitor shorted out",
        "discharge line is down to zero",
        "the cap discharged into my finger",
        "discharged the first of the two capacitors",
        "cap's down to 40 volts and dropping",
        "zero volts across the cap with the fan running",
        "new caps come discharged",
    ],
    "refrigerant-recovered": [
        "unit recovered by itself after a power cut",
        "system is recovering now, slow in this heat",
        "recovered oil is black",
        "got 200 grams out, there's more in it yet",
        "recovered into the cylinder till it filled, then stopped",
        "recovered about two thirds and the machine gave up",
    ],
    "system-leak-tested": [
        "held for two minutes then dropped",
        "leak tested before brazing the last joint, held fine",
        "pressure held, the water pressure I mean",
        "soaped it, no bubbles, then it hissed",
        "leak test is a pass if it holds to five",
        "no bubbles in the sight glass",
    ],
    "system-evacuated": [
        "at 5000 microns and dropping",
        "rose from 300 to 1800 microns",
        "it went to 300 microns with the gauge disconnected",
        "pump alone pulls 50 microns",
        "gauge reads 250 microns in atmosphere, it's broken",
        "pump on, 380 microns is the target",
        "lost the vacuum, was at 300 microns",
    ],
    "earth-continuity-verified": [
        "earth reads 14 ohms",
        "earth reading jumps from 0.1 to 6 ohms",
        "earth good on two of the three panels",
        "earth was 0.08 before I put the new element in",
        "ground is good and solid under the feet of it",
    ],
    "connectors-restored": [
        "reconnected it to the wifi",
        "reconnected them to see the fault, then off again",
        "pushed one on and the tab bent",
        "pushed one on",
        "three new plugs are in the post",
    ],
    "wiring-restored": [
        "the fence wire is back the way it was",
        "wires taped up for now",
        "cable's laid in roughly where it was",
        "wires are held up with my tape for the test",
    ],
    "ignition-sources-cleared": [
        "windows shut, no flames",
        "window's painted shut, no flames about",
        "windows are open, he'd the fire off earlier but it's lit again",
        "no spark at the igniter with the window open",
        "window open, no sparks out of her since the divorce",
    ],
}

ASSERTED = {
    "power-isolated": ["breaker off, locked and tagged", "machine's unplugged, plug lying on the worktop"],
    "water-isolated": ["stopcock's closed under the stairs", "I have closed water supply valve before removing hose"],
    "absence-of-voltage-verified": ["proved dead with the two pole tester, proved the tester before and after"],
    "capacitor-discharged": ["run cap's discharged, reads nought volts", "drained both capacitors with the resistor"],
    "refrigerant-recovered": ["recovered 1.2 kg of refrigerant from the system", "recovery's complete, 12 ounces out"],
    "system-leak-tested": [
        "pressure test held fine, no leaks on any joint",
        "soaped every braze, not one bubble",
        "nitrogen test held, no bubbles at any joint",
    ],
    "system-evacuated": ["down to 410 microns and steady", "vacuum's down and held at 380 microns"],
    "earth-continuity-verified": ["earth bond 0.09 ohms, pass", "ground continuity verified"],
    "connectors-restored": ["all three plugs are back on", "three plugs refitted on the board"],
    "wiring-restored": ["wires are clipped back in where they were", "loom's back in all its clips"],
    "ignition-sources-cleared": ["room is ventilated, no flames or sparks about"],
}


@pytest.fixture(scope="module", autouse=True)
def trained_reader() -> Iterator[None]:
    """The trained reader: rules alone have no second key."""
    with pytest.MonkeyPatch.context() as patch:
        patch.delenv("VOICEREPORT_READER", raising=False)
        load_reader.cache_clear()
        assert load_reader() is not None, "models/reader/reader.onnx is not there"
        yield
    load_reader.cache_clear()


def confirmed(check: str, line: str) -> bool:
    states = {c["id"]: c["state"] for c in answer(line, BEFORE.get(check, ""), FRIDGE, "metric")["checks"]}
    return states.get(check) == "confirmed"


def rows(lines: Mapping[str, Sequence[Any]]) -> list[Any]:
    """(check, line) of each line, with its marks."""
    out: list[Any] = []
    for check, said in lines.items():
        for line in said:
            values = getattr(line, "values", (line,))
            out.append(pytest.param(check, *values, marks=getattr(line, "marks", ())))
    return out


@pytest.mark.parametrize(("check", "line"), rows(NOT_ASSERTED))
def test_words_that_do_not_assert_it_confirm_nothing(check: str, line: str) -> None:
    assert not confirmed(check, line)


@pytest.mark.parametrize(("check", "line"), rows(ASSERTED))
def test_words_that_assert_it_confirm(check: str, line: str) -> None:
    assert confirmed(check, line)
