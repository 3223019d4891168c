"""Words that sound like the assertion of a stop-level check and assert nothing: none of them may pass.

The lines are invented, by people who set out to make a check pass; what they mean is plain English. The rulings are
the report contract's: a plan, a question, a condition, hearsay, half of it, the wrong thing and what is taken back
confirm nothing.
"""

from __future__ import annotations

import pytest

from tests.spoken_jobs import told
from voicereport.explain import answer
from voicereport.statements.keys import fell, fell_since, is_part
from voicereport.statements.reader import load_reader
from voicereport.trades import load_trade

FRIDGE = load_trade("domestic-refrigeration")
with_reader = pytest.mark.skipif(load_reader() is None, reason="the second key is the reader's")

POWER = (
    "Power isolated TBC.",
    "Turned it off at the wall did you",
    "Plug out for ten seconds to reset it then straight back.",
    "Switched off the spur, only the neon stayed lit.",
    "Isolator tagged by me, pulled by nobody.",
    "Turned the mains off, the gas mains like.",
    "Plug out, earth left on.",
)
VOLTAGE = (
    "Zero volts neutral to earth.",
    "Zero volts at the terminals, then the timer came round and I had mains.",
    "Tester says dead and so is the tester.",
    "No voltage, as in no voltage drop across the switch.",
    "Probes were on the ohms range when I read nought at the terminals.",
    "Checked for volts live to neutral, got nowt, never got round to earth.",
    "My tester showed nothing on the terminals, but it shows nothing on a live socket either.",
)
CAPACITOR = (
    "I'd hold the bleed resistor over it till the meter read zero.",
    "Give it five minutes and the cap's discharged.",
    "Zero volts on the cap, meter was on ohms.",
)
WATER = (
    "Stopcock's a turn off shut.",
    "Tap's closed, tap's open, whatever you like.",
    "I have turned that tap until it stopped, and the hose is dribbling as if I did nothing.",
    "Turned the stopcock down and it's still weeping past.",
)
EARTH = (
    "Insulation to earth passed.",
    "Pass mark for earth is 0.1 ohms.",
    "Earth passes through the grommet.",
    "Earth on these is usually about nought point one, nought point one five.",
    "Earth pin to the frame, point one, and it jumps when I wiggle the cord.",
    "Earth pin to the frame, point one, but it doesn't stay there.",
)
RECOVERED = (
    "Recovered 30 grams of the 90 gram charge.",
    "Label says eighty grams and I got fifteen grams into the bottle.",
    "Recovered the gas, well I opened the valve and let it hiss.",
    "I recovered the gas into a bag with a hole in it.",
    "I emptied the recovery bottle back into the system.",
    "Recovered the refrigerant, I did in my hat.",
    "Did I recover the refrigerant out of that before I cut it",
)
LEAK = (
    "Put ten bar on it, it held seven.",
    "Nitrogen at twelve bar, holding at ten.",
    "It held ten bar for three seconds.",
    "Leak test done, no leaks barring the evaporator.",
    "I leak tested the inlet hose and it's tight.",
    "It held pressure like a sieve.",
)
VACUUM = (
    "Pulled the recovery cylinder down to three hundred microns.",
    "Four hundred microns with the hose blanked off.",
    "Three hundred microns for a second.",
    "The micron gauge said two hundred with the hose connected to nothing.",
    "The gauge was showing four hundred microns before I turned the pump on.",
    "Pulled to 500 microns and it was at atmospheric when I came back.",
)
CONNECTORS = (
    "And the spades, let me see, one's on.",
    "I connected the meter leads to the connector.",
    "Tails, I've put two of them on, third I've taped up.",
)
WIRING = (
    "The wiring is back where it was, dangling.",
    "The wiring is back where it was, resting on the hot pipe.",
    "Loom taped down the same way, it won't stick.",
    "The meter leads are back in the clip where they were.",
)
LINES = [
    (check, line)
    for check, lines in (
        ("power-isolated", POWER), ("absence-of-voltage-verified", VOLTAGE), ("capacitor-discharged", CAPACITOR),
        ("water-isolated", WATER), ("earth-continuity-verified", EARTH), ("refrigerant-recovered", RECOVERED),
        ("system-leak-tested", LEAK), ("system-evacuated", VACUUM), ("connectors-restored", CONNECTORS),
        ("wiring-restored", WIRING),
    )
    for line in lines
]  # fmt: skip


@with_reader
@pytest.mark.parametrize(("check", "line"), LINES)
def test_what_asserts_nothing_confirms_nothing(check: str, line: str) -> None:
    states = {c["id"]: c["state"] for c in answer(line, None, FRIDGE)["checks"]}
    assert states.get(check) != "confirmed"


SOURCES = [  # invented: somebody or something else that says it, in the same sentence
    ("power-isolated", "The lady shouted through, the plug is out of the wall."),
    ("power-isolated", "The question is this, I've unplugged it at the wall."),
    ("power-isolated", "The story goes on, I unplugged it from the wall."),
    ("power-isolated", "The training goes like this, the power is off at the breaker and locked."),
    ("absence-of-voltage-verified", "My apprentice pipes up, no volts on any pole."),
    ("refrigerant-recovered", "The label has a line, the refrigerant is recovered."),
    ("water-isolated", "Text from the landlord, the stopcock is shut."),
    ("earth-continuity-verified", "Sample certificate from the college, earth point one ohm, pass."),
]


@with_reader
@pytest.mark.parametrize(("check", "line"), SOURCES)
def test_what_another_source_says_confirms_nothing(check: str, line: str) -> None:
    states = {c["id"]: c["state"] for c in answer(line, None, FRIDGE)["checks"]}
    assert states.get(check) != "confirmed"


@with_reader
@pytest.mark.parametrize(
    "line",
    [
        "I shouted through that I'd start, then unplugged it at the wall.",
        "Photo's taken, plug's out of the wall.",
        "Breaker label's right, it's off at the breaker.",
    ],
)
def test_words_about_a_source_take_nothing_away(line: str) -> None:
    states = {c["id"]: c["state"] for c in answer(line, None, FRIDGE)["checks"]}
    assert states.get("power-isolated") == "confirmed"


COVER = "Took the back panel off."
WIRES = "Disconnected the supply wires."


@with_reader
@pytest.mark.parametrize(
    ("check", "before", "line", "taken_back", "work"),
    [
        ("power-isolated", "", "I unplugged it.", "Did I heck.", COVER),
        ("power-isolated", "", "I've the plug out.", "Well it's the telly's, look.", COVER),
        ("absence-of-voltage-verified", "It's hard wired, breaker's off and locked.",
         "Tested dead at the block, live, neutral and earth.", "Disregard, I was probing the door heater.", WIRES),
        ("capacitor-discharged", "", "Cap is discharged.", "I'm codding you.", "Took the capacitor out."),
        ("water-isolated", "", "Turned the water off at the tap.", "The neighbour's tap it turns out.",
         "Took the inlet valve off."),
        ("earth-continuity-verified", "Changed the defrost heater.", "Earth continuity is good.",
         "Bar the door, that's open circuit.", "Cover's on."),
        ("earth-continuity-verified", "Changed the defrost heater.", "Earth's 0.1.", "Make that 1.8.", "Cover's on."),
        ("power-isolated", "", "I unplugged it.", "Who's plugged that back in? Display's lit up again.", COVER),
        ("power-isolated", "", "It's off at the wall.", "Then why has the light come on in there?", COVER),
        ("capacitor-discharged", "", "Cap's discharged.",
         "Meter across it's showing nineteen hundred volts. Not discharged at all, that.", "Took the capacitor out."),
        ("water-isolated", "", "Stopcock's off.", "Undid the hose and I'm soaked, it's running full bore.",
         "Took the inlet valve off."),
    ],
)  # fmt: skip
def test_the_next_line_takes_it_back(check: str, before: str, line: str, taken_back: str, work: str) -> None:
    lines = [x for x in (before, line, work) if x]
    assert _state(check, *lines) == "confirmed"
    lines.insert(-1, taken_back)
    assert _state(check, *lines) != "confirmed"


BARE = ("Yes.", "Yep, done.", "I did.", "It's out.", "That's out.", "Shut.", "Closed.", "It's shut.", "Pass.", "Held.",
        "Good.", "Click.", "Connected.", "That's done.", "Yes, love.", "Yes, that's right.", "Back on.")  # fmt: skip


@with_reader
@pytest.mark.parametrize("line", BARE)
def test_bare_words_say_not_of_what(line: str) -> None:
    report = told(FRIDGE, "The freezer drawer was next.", line, "Took the back panel off.", "Changed the fan.")
    stops = [c.id for c in report.checks if c.severity == "stop" and c.state == "confirmed"]
    assert [s for s in stops if s not in {"connectors-restored"}] == []


@with_reader
@pytest.mark.parametrize(
    "line",
    [
        "Yes.",
        "Yeah.",
        "Yep.",
        "Aye.",
        "Yes, love.",
        "Yes I know.",
        "I did.",
        "Good.",
        "Click.",
        "Clicked.",
        "Connected.",
    ],
)
def test_a_bare_answer_puts_no_connector_back(line: str) -> None:
    assert _state("connectors-restored", "Unplugged the fan connector.", line) in {"missing", "unclear"}


@with_reader
@pytest.mark.parametrize("line", ["Held.", "It held.", "Holding.", "Tight."])
def test_what_held_must_be_named(line: str) -> None:
    work = ("Brazed the new drier in.", line, "Thirty grams in by weight.")
    assert _state("system-leak-tested", *work) != "confirmed"
    assert (
        _state("system-leak-tested", work[0], "Nitrogen at ten bar, no drop in half an hour.", work[2]) == "confirmed"
    )


@with_reader
@pytest.mark.parametrize(
    "announced",
    ["The sheet says.", "If he rings, tell him.", "The manual goes.", "This is what it wants to say on the sheet.",
     "How should the entry read when I'm done?"],
)  # fmt: skip
def test_words_that_are_announced_are_somebody_elses(announced: str) -> None:
    after = "Took the back panel off."
    assert _state("power-isolated", "Breaker's off.", after) == "confirmed"
    assert _state("power-isolated", announced, "Breaker's off.", after) != "confirmed"


ASSERTED = [  # invented: words that sound like a doubt or a denial and are none
    ("earth-continuity-verified", "Earth pin to the frame, point one, and it doesn't jump when I wiggle the cord."),
    (
        "earth-continuity-verified",
        "Plug pin to the frame of the motor, nought point nought seven ohms, can't complain.",
    ),
    ("water-isolated", "I have wound the stop tap down as far as it goes and nothing is weeping at the filter end."),
    ("power-isolated", "Socket's down behind the tumble dryer, of course it is, but I got to it, plug's out."),
    ("capacitor-discharged", "Held my bleeder across that run cap till the meter quit at zero."),
]


@with_reader
@pytest.mark.parametrize(("check", "line"), ASSERTED)
def test_words_that_only_sound_like_a_doubt(check: str, line: str) -> None:
    assert {c["id"]: c["state"] for c in answer(line, None, FRIDGE)["checks"]}[check] == "confirmed"


@with_reader
@pytest.mark.parametrize(
    ("before", "line"),
    [
        ("Let me unplug the ice maker.", "Okay, that's unplugged."),
        ("I'm gonna unplug this fan before I rip something.", "Okay, that's unplugged, and the cover's out."),
        ("Fan's still plugged in.", "Right, unplugged that."),
        ("Damper plug next.", "Okay, it's unplugged."),
        ("Now the fan motor.", "Unplugged it."),
    ],
)
def test_a_part_that_is_unplugged_isolates_nothing(before: str, line: str) -> None:
    """ "That's unplugged" is the part whose plug was just spoken of, and no appliance. Common practice, no source."""
    assert _state("power-isolated", before, line, COVER, WIRES) != "confirmed"


@with_reader
@pytest.mark.parametrize(
    ("before", "line"),
    [
        ("Let me unplug the fan.", "Cord's out of the wall."),
        ("Let me unplug the fan.", "Okay, that's unplugged at the wall."),
        ("Fan's still plugged in.", "Right, the fridge is unplugged."),
        ("I'm going to unplug this fridge first.", "Okay, that's unplugged."),
    ],
)
def test_an_appliance_that_is_unplugged_after_a_part_is_isolated(before: str, line: str) -> None:
    assert _state("power-isolated", before, line, COVER, WIRES) == "confirmed"


BREAKERS = "It's hard wired, the breaker panel's in the pantry."


@with_reader
@pytest.mark.parametrize(
    "line",
    ["Okay, sixteen's off, and I stuck some tape over it.", "Flipped nineteen off.", "Number four's off and locked."],
)
def test_a_breaker_may_be_called_by_its_number(line: str) -> None:
    assert _state("power-isolated", BREAKERS, line, COVER, WIRES) == "confirmed"


@with_reader
@pytest.mark.parametrize(
    ("before", "line"),
    [
        (BREAKERS, "I'll shut sixteen off."),
        (BREAKERS, "Is sixteen off?"),
        (BREAKERS, "He says sixteen's off."),
        (BREAKERS, "Six screws, four's off, two to go."),
        (BREAKERS, "Shelves, pulled four out."),
        ("The breaker's in the hall, I'll get it later.", "Four's off."),
        ("Two shelves and four baskets.", "Four's off."),
    ],
)
def test_a_number_is_no_breaker_that_is_off(before: str, line: str) -> None:
    assert _state("power-isolated", before, line, COVER, WIRES) != "confirmed"


@with_reader
@pytest.mark.parametrize("line", ["Brown's on terminal three, orange is on four, and the earth's on the frame."])
def test_where_wires_lead_puts_none_back(line: str) -> None:
    """Said before anything came apart, it says where they are. After it, that they are back."""
    assert _state("connectors-restored", line) != "confirmed"
    assert _state("connectors-restored", "Pulled the brown and the orange wire off.", line) == "confirmed"


BELIED = [  # invented: what is told after it shows that it was not so, or no longer is
    (
        "absence-of-voltage-verified",
        (
            "Spur off, tested dead.",
            "Tried the tester on a live socket after, and it's dead there too, so the tester's no good.",
            "Disconnected the heater.",
        ),
    ),
    (
        "absence-of-voltage-verified",
        (
            "Breaker off, tested, zero volts.",
            "The tester was on the DC range.",
            "Disconnected the heater wires.",
        ),
    ),
    (
        "absence-of-voltage-verified",
        (
            "Breaker off.",
            "Proved dead at the wall outlet for the freezer.",
            "Disconnected the fridge's heater wires.",
        ),
    ),
    (
        "absence-of-voltage-verified",
        (
            "Isolator off.",
            "Multimeter, nothing, zero.",
            "It's set to amps, look at that.",
            "Disconnected the compressor leads.",
        ),
    ),
    (
        "absence-of-voltage-verified",
        (
            "Breaker off and it's tested dead, well, the light in the fridge is dead.",
            "Disconnected the heater wires.",
        ),
    ),
    (
        "capacitor-discharged",
        (
            "Unplugged it.",
            "Bled the capacitor down.",
            "Still got ninety volts on it.",
            "Took the run capacitor off and fitted a new one.",
        ),
    ),
    (
        "capacitor-discharged",
        (
            "Unplugged.",
            "Capacitor's flat, reads zero microfarads.",
            "Removed the capacitor and fitted a new one.",
        ),
    ),
    (
        "capacitor-discharged",
        (
            "Pulled the plug.",
            "Capacitor's bled.",
            "That was the start one, the run one I forgot.",
            "Removed the run capacitor and fitted a new one.",
        ),
    ),
    (
        "capacitor-discharged",
        (
            "Pulled the plug.",
            "Bled the capacitor off.",
            "Meter's showing a hundred and forty across it.",
            "Removed the run capacitor and fitted a new one.",
        ),
    ),
    (
        "capacitor-discharged",
        (
            "Pulled the plug.",
            "Capacitor was discharged.",
            "Powered up again to check the fan, then unplugged.",
            "Removed the run capacitor and fitted a new one.",
        ),
    ),
    (
        "connectors-restored",
        (
            "Plug out, pulled the sensor connector.",
            "Swapped the sensor and plugged it in.",
            "It's popped off again, the clip's broken.",
            "Panel back on.",
        ),
    ),
    (
        "connectors-restored",
        (
            "Pulled the plug.",
            "Disconnected the fan.",
            "Plugged the fan back in.",
            "It fell out when I pushed the cover on.",
            "Cover on, four screws.",
        ),
    ),
    (
        "connectors-restored",
        (
            "Pulled the plug.",
            "Disconnected the ice maker harness.",
            "Ice maker harness is back in.",
            "Broke the latch, so it won't stay in.",
            "Panel on.",
        ),
    ),
    (
        "connectors-restored",
        (
            "Pulled the plug.",
            "Disconnected the harness.",
            "Harness connected.",
            "Pin's pushed back so it isn't making.",
            "Cover on.",
        ),
    ),
    (
        "connectors-restored",
        (
            "Pulled the plug.",
            "Disconnected the fan.",
            "Fan's connected.",
            "New guard needs fitting, so disconnected it once more.",
            "Guard on, cover on.",
        ),
    ),
    (
        "earth-continuity-verified",
        (
            "Plug out, replaced the door switch and the lamp.",
            "Continuity on the new switch, point one.",
            "Back together.",
        ),
    ),
    (
        "earth-continuity-verified",
        (
            "Pulled the plug.",
            "Fitted a new heater.",
            "Earth's good, point one.",
            "That's the old lead, I still have to fit the new one.",
            "Fitted the new power cord and plugged it in.",
        ),
    ),
    (
        "earth-continuity-verified",
        (
            "Pulled the plug.",
            "Fitted a new heater.",
            "Earth test passed.",
            "Meter lead was broken, so it'd pass anything.",
            "Powered up.",
        ),
    ),
    (
        "earth-continuity-verified",
        (
            "Pulled the plug.",
            "Fitted a new heater.",
            "Earth's point one.",
            "The earth tag's since snapped off the bracket.",
            "Powered up.",
        ),
    ),
    (
        "ignition-sources-cleared",
        (
            "R six hundred A.",
            "Ventilated and no ignition sources.",
            "No, the toaster's on behind me, she's making lunch.",
            "Recovered and cut the drier out.",
        ),
    ),
    (
        "ignition-sources-cleared",
        (
            "R two ninety in this.",
            "Back door open, fan blowing through, nothing lit.",
            "Then she put the stove on for the baby's bottle.",
            "I'd recovered it by then.",
            "Cut the drier out.",
        ),
    ),
    (
        "ignition-sources-cleared",
        (
            "R six hundred A.",
            "Ventilated, no ignition sources in the garage.",
            "The fridge is in the kitchen with the range on.",
            "Recovered the gas and cut the drier out.",
        ),
    ),
    (
        "ignition-sources-cleared",
        (
            "R six hundred A.",
            "Ventilated, no naked flames.",
            "I've got the torch lit ready.",
            "Recovered the gas and cut the drier out.",
        ),
    ),
    (
        "ignition-sources-cleared",
        (
            "R six hundred A.",
            "Room's ventilated and free of ignition sources on the form, I just tick it.",
            "Recovered the gas and cut the drier out.",
        ),
    ),
    (
        "ignition-sources-cleared",
        (
            "R two ninety.",
            "Ventilated, no ignition sources.",
            "Then the fryer kicked in next door, it's the same room really.",
            "Recovered the gas and cut the drier out.",
        ),
    ),
    (
        "power-isolated",
        (
            "Isolated the supply to the oven, that's the spur over the worktop.",
            "Slid the fridge forward.",
            "Rear cover off, and I unplugged the inverter board.",
        ),
    ),
    (
        "power-isolated",
        (
            "Power's off, I pulled the plug.",
            "No, hang on, that's the dishwasher's plug I'm holding.",
            "Anyway, took the cover off the fan and unplugged the motor.",
        ),
    ),
    (
        "power-isolated",
        (
            "Pulled the cord.",
            "Let me put that back, I need the display for the error code.",
            "Error's E four.",
            "Took the cover off and disconnected the fan.",
        ),
    ),
    (
        "power-isolated",
        (
            "Pulled the plug.",
            "Gave it a minute of juice to see if the fan kicks, nothing.",
            "Cover off and the fan disconnected.",
        ),
    ),
    (
        "power-isolated",
        (
            "Cord's out.",
            "Fired it back up for a quick amp draw, one point two.",
            "Back panel off, disconnected the relay.",
        ),
    ),
    (
        "power-isolated",
        (
            "Isolated.",
            "Checked at the terminals and it's two forty, so it's the wrong isolator.",
            "Cover off and heater disconnected.",
        ),
    ),
    (
        "power-isolated",
        (
            "Knocked the breaker off at the panel.",
            "Reading two hundred and thirty one at the terminal block still.",
            "Pulled the leads off the compressor.",
        ),
    ),
    (
        "power-isolated",
        (
            "Switched off the breaker and checked for voltage.",
            "Still got one hundred and eighteen on it.",
            "Pulled the harness off the board anyway with gloves on.",
        ),
    ),
    (
        "power-isolated",
        (
            "Isolator off and tested dead.",
            "Wired in a temporary lead to run the fan, then took that away.",
            "Breaker's been reset by the caretaker, so it's live.",
            "Disconnected the heater wires.",
        ),
    ),
    (
        "refrigerant-recovered",
        (
            "Recovered the gas, all forty grams.",
            "Cylinder scale hadn't moved, so nothing came out.",
            "Cut the drier out and it blew in my face.",
        ),
    ),
    (
        "refrigerant-recovered",
        (
            "Recovered the gas.",
            "Scale says nought grams.",
            "Cut the drier out and there was pressure behind it.",
            "New drier in.",
        ),
    ),
    (
        "refrigerant-recovered",
        (
            "Recovered the gas.",
            "There's still five bar on the high side.",
            "Cut the drier out.",
            "New drier in.",
        ),
    ),
    (
        "refrigerant-recovered",
        (
            "Recovered forty grams.",
            "Opened the bottle valve the wrong way and it all went back in.",
            "Cut the drier out.",
            "New drier in.",
        ),
    ),
    (
        "refrigerant-recovered",
        (
            "Recovered thirty five grams.",
            "Standing pressure went back up to three bar, so it's boiling out of the oil.",
            "Cut the drier out.",
            "New drier brazed.",
        ),
    ),
    (
        "system-evacuated",
        (
            "Recovered the gas, cut the drier out and brazed a new one.",
            "Evacuated the other one first, three hundred microns on that.",
            "Charged this one with forty grams.",
        ),
    ),
    (
        "system-evacuated",
        (
            "Recovered the gas, cut the drier out and brazed a new one.",
            "Two hundred microns.",
            "Knocked the hose off the valve, air's gone in.",
            "Charged forty grams.",
        ),
    ),
    (
        "system-evacuated",
        (
            "Recovered the gas, cut the drier out and brazed a new one.",
            "Three hundred microns on unit one.",
            "Charged unit two with forty grams.",
        ),
    ),
    (
        "system-evacuated",
        (
            "Recovered the gas, cut the drier out and brazed a new one.",
            "Vacuum's four hundred microns.",
            "Broke it with air, took the valve core out and put a new core in.",
            "Charged forty grams.",
        ),
    ),
    (
        "system-evacuated",
        (
            "Recovered the gas, cut the drier out and brazed a new one.",
            "Two hundred microns on the gauge before I'd even opened the valve to the system.",
            "Charged forty grams.",
        ),
    ),
    (
        "system-leak-tested",
        (
            "Recovered the gas, cut out the compressor, new one in.",
            "Ten bar held for ten minutes.",
            "Actually it's at nine now.",
            "Vacuum to three hundred microns and forty grams in.",
        ),
    ),
    (
        "system-leak-tested",
        (
            "Recovered the gas, cut the drier out and brazed a new one.",
            "Held ten bar.",
            "Came back from lunch and it's at seven.",
            "Vacuum three hundred microns, charged forty grams.",
        ),
    ),
    (
        "system-leak-tested",
        (
            "Recovered the gas, cut the drier out and brazed a new one.",
            "Ten bar nitrogen, no drop, no bubbles.",
            "Oh, a bubble.",
            "Vacuum three hundred microns, charged forty grams.",
        ),
    ),
    (
        "system-leak-tested",
        (
            "Recovered the gas, cut the drier out and brazed a new one.",
            "Ten bar, held.",
            "Came off the gauge to nine.",
            "Vacuum three hundred microns, charged forty grams.",
        ),
    ),
    (
        "system-leak-tested",
        (
            "Recovered the gas, cut the compressor out, new one brazed.",
            "Pressure test, twelve bar, twenty minutes, no drop.",
            "Next morning it was down to eight.",
            "Vacuum three hundred microns, charged forty grams.",
        ),
    ),
    (
        "water-isolated",
        (
            "Water's off under the sink.",
            "Turned it back on to flush the line into a bucket.",
            "Then I took the inlet valve off and put the new one in.",
        ),
    ),
    (
        "water-isolated",
        (
            "Closed the hot tap isolator under the basin.",
            "Then I pulled the water filter out of the fridge.",
            "Fitted the new cartridge.",
        ),
    ),
    (
        "water-isolated",
        (
            "Shut the supply valve.",
            "Cracked it open again to see if the pressure's there.",
            "It is.",
            "Took the inlet valve off and fitted the new one.",
        ),
    ),
    (
        "water-isolated",
        (
            "Water's off.",
            "It's still spraying when I crack the nut, so it's not off.",
            "Disconnected the supply line anyway into a bucket.",
            "New valve in.",
        ),
    ),
    (
        "water-isolated",
        (
            "Water's off at the wall.",
            "Ran the dispenser, still full flow.",
            "Disconnected the supply line and fitted the new inlet valve.",
        ),
    ),
    (
        "water-isolated",
        (
            "Shut the supply tap.",
            "Opened it a touch to rinse the line.",
            "Disconnected the line and swapped the inlet valve.",
        ),
    ),
    (
        "wiring-restored",
        (
            "Pulled the plug.",
            "Unclipped the fan wires and the heater wires.",
            "Fan wires clipped back.",
            "Panel on.",
        ),
    ),
    (
        "wiring-restored",
        (
            "Pulled the plug.",
            "Unclipped the harness and the heater wires.",
            "Harness is clipped back.",
            "Panel on.",
        ),
    ),
    (
        "wiring-restored",
        (
            "Pulled the plug.",
            "Took the wires out of the clips.",
            "Wires back in the clips.",
            "Clip's given way and they're on the fan blade.",
            "Panel on.",
        ),
    ),
    (
        "wiring-restored",
        (
            "Pulled the plug.",
            "Took the wiring out of its clips.",
            "Wiring's clipped back.",
            "Fan's catching it, so it's out of the clips again.",
            "Panel on.",
        ),
    ),
    (
        "wiring-restored",
        (
            "Pulled the plug.",
            "Took the wiring out of its clips.",
            "Wiring's clipped back.",
            "Bit of it's pinched under the panel.",
            "Panel on.",
        ),
    ),
]


UNDECEIVED = [
    (
        "power-isolated",
        ("Isolator's off and my lock is on it.", "Side panel's off.", "Contactor screws done.",
         "Oh no, that isolator's for next door's unit, ours is at the back."),
    ),
    (
        "refrigerant-recovered",
        ("Recovery's finished, the machine cut out on vacuum.", "Cutter on the liquid line.", "Loads of frost there.",
         "The hose tap at my end was shut the whole time."),
    ),
    (
        "refrigerant-recovered",
        ("Took four hundred grams out of the drinks chiller, it's weighed.", "Now the upright freezer next to it.",
         "Cutter on the suction line and it's through."),
    ),
    (
        "refrigerant-recovered",
        ("System's empty, zero on both gauges.", "Well, I say empty, I held the valve in and opened the back door.",
         "Cut the filter drier out."),
    ),
    (
        "ignition-sources-cleared",
        ("It's R six hundred A. Hob's off, windows are open, nothing lit anywhere.", "Process tube's cut.",
         "Oh, that lamp in the corner was burning all this time."),
    ),
    ("water-isolated",
     ("Angle valve's closed.", "Cracked the angle valve again to see if the solenoid lets by.", "Inlet tube's off.")),
    ("system-leak-tested",
     ("Brazed the new compressor in at the back.", "Soaped the evaporator bends under pressure, not one bubble.",
      "Can't get a brush in behind the compressor where I brazed.")),
    ("earth-continuity-verified", ("Swapped the heater.", "Earth on the left one, nought point one.")),
    ("earth-continuity-verified",
     ("Swapped the heater.", "Not more than nought point one ohm from the pin to any metal, it goes, section nine.")),
    ("earth-continuity-verified",
     ("Earth pin to the case, nought point one, pass.", "That flex is nicked to the copper.", "New flex fitted.")),
    ("capacitor-discharged",
     ("Second inverter board today.", "The first one I bled off with the resistor, down to a volt.",
      "Pulled the inverter board.")),
]  # fmt: skip


@with_reader
@pytest.mark.parametrize(("check", "lines"), UNDECEIVED)
def test_what_some_lines_later_shows_it_otherwise(check: str, lines: tuple[str, ...]) -> None:
    assert next(c for c in told(FRIDGE, *lines).checks if c.id == check).state != "confirmed"


@with_reader
@pytest.mark.parametrize(
    ("check", "lines"),
    [
        ("power-isolated", ("Plug's out of the wall.", "Back cover off.", "The light switch was stuck on all along.")),
        ("power-isolated", ("Plug's out of the wall.", "Back cover off.", "Screw was on my magnet the whole time.")),
        ("power-isolated", ("Plug's out of the wall.", "Back cover off.", "Now the freezer cover.")),
        ("refrigerant-recovered",
         ("Recovered forty grams, the machine pulled it into a vacuum.", "Cut the drier out.", "Now the new one.")),
        ("power-isolated", ("Unplugged it at the wall.", "Well, I say let's see what we've got, cover off.")),
        ("water-isolated", ("Stopcock's shut off.", "Cracked the tray lifting it.", "Inlet tube off.")),
    ],
)  # fmt: skip
def test_other_lines_take_nothing_back(check: str, lines: tuple[str, ...]) -> None:
    assert next(c for c in told(FRIDGE, *lines).checks if c.id == check).state == "confirmed"


@with_reader
@pytest.mark.parametrize(("check", "lines"), BELIED)
def test_what_the_next_lines_tell_belies_it(check: str, lines: tuple[str, ...]) -> None:
    assert _state(check, *lines) != "confirmed"


def _state(check: str, *lines: str) -> str:
    return next(c.state for c in told(FRIDGE, *lines).checks if c.id == check)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("put ten bar on it held seven", True),
        ("nitrogen at twelve bar holding at ten", True),
        ("ten bar for thirty minutes and it held ten", False),
        ("ten bar of nitrogen and it held for five minutes", False),
        ("it held", False),
    ],
)
def test_a_pressure_that_fell(text: str, expected: bool) -> None:
    assert fell(text) is expected


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("recovered 30 grams of the 90 gram charge", True),
        ("recovered eighty eight grams of a ninety gram charge", False),
        ("recovered forty grams into the cylinder", False),
        ("forty grams in the bottle and two hoses off", False),
    ],
)
def test_a_part_of_the_charge(text: str, expected: bool) -> None:
    assert is_part(text, 0.75) is expected


@with_reader
@pytest.mark.parametrize(
    "announced",
    ["Manual, page twelve.", "Rules on the workshop wall."],
)
def test_what_a_text_says_lasts_to_the_end_of_the_line(announced: str) -> None:
    """A recogniser writes full stops where a text is read out, too."""
    line = f"{announced} Read this bit. The capacitor is now discharged."
    states = {c["id"]: c["state"] for c in answer(line, None, FRIDGE)["checks"]}
    assert states.get("capacitor-discharged") != "confirmed"
    states = {c["id"]: c["state"] for c in answer("The capacitor is now discharged.", None, FRIDGE)["checks"]}
    assert states.get("capacitor-discharged") == "confirmed"


@with_reader
@pytest.mark.parametrize("mark", [",", ";", ":", " -", ""])
def test_the_same_again_elsewhere_hides_no_speaker(mark: str) -> None:
    """The comma before "same again" ends a sentence only where nothing follows."""
    line = f"He says the left is isolated, same again on the right{mark} plug's out of the wall."
    states = {c["id"]: c["state"] for c in answer(line, None, FRIDGE)["checks"]}
    assert states.get("power-isolated") != "confirmed"


TELLING = [  # invented: context, what is said, and the check that it asserts
    ("", "power-isolated", "First thing I did was reach around and pull the plug, it's laying on the floor tiles now."),
    ("", "power-isolated",
     "Before I even grab a driver I reach back there, pull the cord out of the wall, it's in my hand."),
    ("", "power-isolated", "I walk it out from the wall and unplug it, cord's sitting up on top of the fridge."),
    ("", "power-isolated", "I head down to the basement, find the panel, and kill breaker twelve, it's off now."),
    ("", "water-isolated", "I duck under the sink and shut the cold tap off, quarter turn, it's closed."),
    ("You've not left it plugged in?", "power-isolated", "No, it's out. I had it out before I touched that panel."),
    ("Is it still plugged in?", "power-isolated", "No, I've the plug here in my hand."),
    ("", "system-evacuated",
     "Vacuum's at two hundred and eighty microns, I'm shutting the pump off and then I'll charge."),
    ("", "system-evacuated", "Gauge says three hundred microns and it's not moving, now I'll weigh the charge in."),
    ("The joints are all made.", "system-leak-tested",
     "Ten bar of nitrogen at ten o'clock, ten bar at half past, no drop."),
    ("The joints are all made.", "system-leak-tested", "Left twelve bar on it for half an hour, hasn't moved."),
    ("", "system-leak-tested",
     "Nitrogen's been on since I finished brazing, half an hour now, the needle's where I left it, so it's tight."),
    ("", "capacitor-discharged", "Capacitor is discharged, I did it twice because this type I don't trust."),
    ("", "refrigerant-recovered", "Recovered forty grams into the cylinder, and it has not come back up."),
    ("New compressor is in and connected.", "earth-continuity-verified",
     "Green wire to compressor foot, zero point one ohm, for me this is pass."),
    ("New compressor is in.", "earth-continuity-verified",
     "Earth. Pin to the coil, nought point one three ohms, I'll take that."),
    ("The defrost heater ran ten minutes before.", "heater-cool", "It's off, and I've left it till it was stone cold."),
    ("Two leads off the relay, one off the overload.", "connectors-restored",
     "Two leads back on the relay, one back on the overload."),
    ("Lock plug off.", "connectors-restored", "Lock plugged."),
    ("Three connectors came off.", "connectors-restored",
     "Fan one, in. Heater one, in. Sensor one, in. That's the three."),
    ("", "power-isolated", "The plug is out from the wall, it lie on the microwave, where my eye is."),
    ("", "power-isolated", "Okay, so the plug is no more in the wall, I put it up on the microwave."),
    ("", "power-isolated", "Behind the dishwasher, that's where the point is, and the fridge's plug is out of it."),
    ("This one's hard wired, no plug.", "power-isolated",
     "There's a little disconnect switch in the cabinet next to it and I turned that off."),
    ("Did I pull the plug?", "power-isolated", "Yes, before I touched anything."),
    ("", "water-isolated", "The tap behind the dishwasher is closed now."),
    ("", "water-isolated", "Stopcock under the dishwasher's turned off."),
    ("", "power-isolated", "I've pulled the plug, the freezer's standing next to it."),
    ("", "power-isolated", "I pulled the plug of the fridge and left it lying next to it."),
    ("", "power-isolated", "The plug is out of the wall socket beside it."),
    ("", "power-isolated", "Unplugged the fridge from the outlet behind it."),
    ("", "power-isolated", "Plug's out, I'm a hundred percent on that."),
    ("", "power-isolated", "Plug's out, humidity's ninety percent in here."),
    ("", "power-isolated", "Wall switch is off and the plug is out."),
    ("", "refrigerant-recovered", "I recovered an ounce and a half of R134a."),
    ("", "earth-continuity-verified", "Earth, frame to pin, meter jumped about and steadied at point one five ohms."),
    ("", "water-isolated", "He had the ball valve open when I got here. It's closed now, I did it."),
    ("Is the plug out?", "power-isolated", "It is, I've got it in my hand."),
    ("The sensor wire was taped to the duct in two places.", "wiring-restored",
     "Taped the sensor wire back on the duct in the same two places, then put the cover on."),
]  # fmt: skip


@with_reader
@pytest.mark.parametrize(("before", "check", "line"), TELLING)
def test_what_is_told_of_oneself_is_asserted(before: str, check: str, line: str) -> None:
    assert {c["id"]: c["state"] for c in answer(line, before, FRIDGE)["checks"]}[check] == "confirmed"


NOT_TOLD = [  # invented: look-alikes of the lines above
    ("", "power-isolated", "Before I touch it, pull the plug."),
    ("", "power-isolated", "I always walk it out from the wall and unplug it."),
    ("", "power-isolated", "I tell him to reach round and pull the plug."),
    ("", "power-isolated", "When I shout, reach round and pull the plug."),
    ("", "power-isolated", "I go to pull the plug and it's stuck fast."),
    ("", "power-isolated", "I hold the torch, pull the plug out please."),
    ("", "power-isolated", "I reach round here, you pull the plug."),
    ("", "power-isolated", "I reach in there and unplug the fan."),
    ("", "power-isolated", "First thing I do on any job is reach round and pull the plug."),
    ("", "power-isolated", "What I did was tell her to go and pull the plug."),
    ("", "power-isolated", "I turn the dial down and switch it off."),
    ("", "water-isolated", "I'd duck under the sink and shut the cold tap."),
    ("Did you pull the plug?", "power-isolated", "No, the plug I pulled was the kettle's."),
    ("Is it unplugged?", "power-isolated", "No, it was out but I put it back in."),
    ("You sure that's off?", "power-isolated", "No, the wife says it's out."),
    ("", "system-evacuated", "Three hundred microns is what I want, and then I'll charge."),
    ("", "system-evacuated", "I'll pull it to three hundred microns and then I'll charge."),
    ("", "system-evacuated", "Once it's at three hundred microns I can put the gas in."),
    ("", "system-evacuated", "Last one pulled to three hundred microns, so now I can put the gas in."),
    ("The joints are all made.", "system-leak-tested", "Twelve bar at eight o'clock, ten bar at half past nine."),
    ("The joints are all made.", "system-leak-tested",
     "Twelve bar of nitrogen at ten o'clock, and nine bar at half past, no bubbles though."),
    ("The joints are all made.", "system-leak-tested", "Left ten bar of nitrogen on it and I'll look when I'm back."),
    ("", "system-leak-tested", "Put ten bar on, it isn't where I left it, it's at eight."),
    ("", "capacitor-discharged", "Cap's discharged but I don't trust it."),
    ("", "refrigerant-recovered", "Recovered thirty grams, came back up straight after."),
    ("New compressor is in.", "earth-continuity-verified",
     "Green wire to the relay, zero point one ohm across the winding."),
    ("New compressor is in.", "earth-continuity-verified",
     "Ground on this series is always good. Last one I did had zero point one."),
    ("The defrost heater ran ten minutes before.", "heater-cool", "Let it cool a bit, then whip the element out."),
    ("The defrost heater ran ten minutes before.", "heater-cool", "I'll leave it till it's cold."),
    ("I've got to lift this coil.", "hands-protected", "I had gloves somewhere, I'm sure I did."),
    ("Breaker fourteen is off.", "absence-of-voltage-verified",
     "My tester in the outlet by the counter doesn't light, so I figure these wires are dead too."),
    ("Breaker fourteen is off.", "absence-of-voltage-verified",
     "Tester's dead in the outlet by the counter, so these wires are dead as well."),
    ("I cut three ties and pulled wires forward.", "wiring-restored",
     "Wires are on their path, one tie is on, for other two I go to the truck."),
    ("Fan plug off.", "connectors-restored", "Fan runs, so its plug's in."),
    ("Three connectors came off.", "connectors-restored", "Fan one, in. Heater one, in. Sensor one, can't find it."),
    ("", "power-isolated", "Plug's hanging off the oven, that's the oven's own."),
    ("", "power-isolated", "Behind the dishwasher, that's where the point is, and the dishwasher's plug is out of it."),
    ("", "power-isolated", "Socket's behind the washer and I unplugged the washer."),
    ("", "power-isolated", "The cabinet next to it is unplugged."),
    ("", "water-isolated", "The tap for the dishwasher is closed."),
    ("", "water-isolated", "I've shut the tap to the dishwasher."),
    ("", "water-isolated", "The tap behind the dishwasher only does the dishwasher, and it's closed."),
    ("", "water-isolated", "The tap behind the dishwasher is closed, it's the dishwasher's."),
    ("", "water-isolated", "Tap next to the kettle is shut, the neighbour says."),
    ("", "power-isolated", "I've pulled the plug on the fridge standing beside it, I needed a socket for my torch."),
    ("", "power-isolated", "I unplugged the freezer that stands alongside it so I'd have somewhere for the vacuum."),
    ("", "power-isolated", "Plug's out of the fridge to the left of it."),
    ("", "power-isolated", "I took the plug out of the one sitting next to this."),
    ("", "power-isolated", "It's off at the wall, I'm about eighty percent."),
    ("", "power-isolated", "Plug's out, I'm maybe ninety five per cent on that."),
    ("", "power-isolated", "Breaker's off, ninety nine percent sure."),
    ("", "power-isolated", "It's unplugged, nine times out of ten that's the right plug."),
    ("", "power-isolated", "Plug's out, don't quote me on that."),
    ("", "power-isolated", "The wall switch of the disposal is off."),
    ("", "power-isolated", "The wall switch for the light is off."),
    ("", "power-isolated", "The wall switch is off, he says."),
    ("", "refrigerant-recovered", "I recovered an old bottle from the bin."),
    ("", "refrigerant-recovered", "I recovered half the charge."),
    ("", "earth-continuity-verified", "Earth, frame to pin, it's jumping, it hasn't settled, point two ohms."),
    ("", "earth-continuity-verified", "Earth, frame to pin, jumping, settled, now jumping again, point two ohms."),
    ("Is the plug out?", "power-isolated", "It is, I have it on his word."),
    ("Is the plug out?", "power-isolated", "It is, I've got to trust him on that."),
    ("", "power-isolated", "Plug is no more than half in."),
    ("Did I unplug it?", "power-isolated", "Of course, but I plugged it back in."),
    ("Did I unplug it?", "power-isolated", "Yes, before I put it back on."),
    ("Heater lead pulled out of its clips.", "wiring-restored",
     "The loom's in its channel as it was. The heater lead I think is in its clips the way it was."),
    ("Fan plug off.", "connectors-restored", "Fan's blowing, I can feel it, and the compressor has joined in."),
    ("White plug off, blue plug off.", "connectors-restored",
     "That's the white plug in, and the blue's still dangling."),
    ("Two leads off the relay, one off the overload.", "connectors-restored",
     "Two leads back on the relay, one still to go."),
    ("Inlet tube off. Outlet tube off.", "connectors-restored",
     "Red to inlet, plain to outlet. Pushed, tugged, both locked in."),
]  # fmt: skip


@with_reader
@pytest.mark.parametrize(("before", "check", "line"), NOT_TOLD)
def test_what_only_sounds_told_asserts_nothing(before: str, check: str, line: str) -> None:
    assert {c["id"]: c["state"] for c in answer(line, before, FRIDGE)["checks"]}.get(check) != "confirmed"


@with_reader
@pytest.mark.parametrize(
    ("line", "stands"),
    [
        ("Sorry? No, the van's open, take the ladder, it's fine.", True),
        ("No, love, I haven't looked at the tumble dryer, one thing at a time.", True),
        ("Excuse me? No, sir, washing machines, you'd have to ring the office for that one.", True),
        ("No, mate, it's the neighbour's.", False),
        ("No, love, that was the kitchen one I turned.", False),
        ("Sorry? Oh, the other one. That's the wrong breaker then.", False),
    ],
)
def test_what_is_said_to_somebody_else_takes_nothing_back(line: str, stands: bool) -> None:
    state = _state("power-isolated", "Breaker's off.", line, COVER)
    assert (state == "confirmed") is stands


@pytest.mark.parametrize(
    ("before", "after", "fell"),
    [
        ("Held ten bar.", "Came back from lunch and it's at seven.", True),
        ("Ten bar held for ten minutes.", "Actually it's at nine now.", True),
        ("Pressure test, twelve bar, twenty minutes, no drop.", "Next morning it was down to eight.", True),
        ("Held ten bar.", "Still at ten.", False),
        ("Held ten bar.", "Back panel's on with six screws.", False),
        ("Held ten bar.", "Vacuum down to three hundred microns.", False),
        ("It held.", "It's at seven.", False),
    ],
)
def test_a_pressure_that_fell_since(before: str, after: str, fell: bool) -> None:
    assert fell_since(before, after) is fell
