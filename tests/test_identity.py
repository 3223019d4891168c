"""Dictated job fields, the time worked, and complaints. Common practice, no source; all lines are invented."""

from __future__ import annotations

import pytest
from spoken_jobs import narrated, told

from voicereport.explain import answer, spoken
from voicereport.statements import read_statements
from voicereport.statements.tokens import sentences
from voicereport.statements.told import complains
from voicereport.trades import load_trade

TRADE = load_trade("domestic-refrigeration")


@pytest.fixture(autouse=True)
def _by_rules(monkeypatch: pytest.MonkeyPatch) -> None:
    """The fields of the job are read by rules alone."""
    monkeypatch.setattr("voicereport.statements.load_reader", lambda: None)


def fields(said: str) -> dict[str, str | float]:
    """The fields that a line leads to; what was said before it stands before a bar."""
    context, _, say = said.rpartition("|")
    job = answer(say, context or None, TRADE)["job"]
    found = {
        "work_order": job["work_order"],
        "model": job["appliance"]["model"],
        "serial": job["appliance"]["serial"],
        "labour_min": job["labour_min"],
    }
    return {name: value["value"] for name, value in found.items() if value is not None}


AFTER = [
    (
        "It's a B R one two zero G, that's the model, and the serial's nine four four seven M.",
        {"model": "BR120G", "serial": "9447M"},
    ),
    ("T F two four six, serial one zero five, five zero six.", {"model": "TF246", "serial": "105506"}),
    ("Model N B three, naw, N B two two F.", {"model": "NB22F"}),
    ("Serial's eight eight two zero four, nope, one four, eight eight two one four.", {"serial": "88214"}),
    ("Hotel Papa six one two is what the model plate says.", {"model": "HP612"}),
    ("R L, two, oh, six on the model tag.", {"model": "RL206"}),
    ("L for lemon, M for Mary, four forty, there's the model.", {"model": "LM440"}),
    ("G twelve hundred K, that there's the model number.", {"model": "G1200K"}),
    ("Double four, nine, one, seven, that'd be your serial.", {"serial": "44917"}),
    ("Eight oh nine nine for the serial number.", {"serial": "8099"}),
    ("Four one nine six is the ticket.", {"work_order": "4196"}),
    ("Three three seven oh, job number.", {"work_order": "3370"}),
    ("It's down as five one five, seven, that's the docket.", {"work_order": "5157"}),
    (
        "Q X ninety is the model and three zero five five one is the serial.",
        {"model": "QX90", "serial": "30551"},
    ),
]

ORDERS = [
    ("Ticket four four one two, no that's right.", "4412"),
    ("Job four four one two, drop the keys off after.", "4412"),
    ("Job six one oh four, that one's on the third floor.", "6104"),
    ("Works order four double one nine.", "4119"),
    ("Order number's six six, three one.", "6631"),
    ("Order two two three one, chest freezer in the garage.", "2231"),
    ("For the order nine one four four.", "9144"),
    ("The number of the order is three one one eight.", "3118"),
    ("We are on work number two two nine six.", "2296"),
    ("Docket's one two one two.", "1212"),
    ("Ticket number H three oh two.", "H302"),
    ("Call sheet three zero eight eight seven, bottom freezer unit.", "30887"),
    ("Report number eight one one four, kitchen.", "8114"),
    ("Service slip seven seven one two.", "7712"),
    ("Service call seven seven one zero.", "7710"),
    ("This call is eight one oh six.", "8106"),
    ("Call number five five two one.", "5521"),
    ("The sheet number is one one four six.", "1146"),
    ("Job card one, one, six, eight, the lady's fridge.", "1168"),
    ("Job ref four oh three one.", "4031"),
    ("Job #4417, front loader.", "4417"),
]

SPELLED = [
    ("Model vee dee sixty six.", {"model": "VD66"}),
    ("Model haitch, haitch, two oh one, zee.", {"model": "HH201Z"}),
    ("Model's zed for zebra, ex for x-ray, one eighty.", {"model": "ZX180"}),
    ("Model's B like banana, T like Tommy, three one oh.", {"model": "BT310"}),
    ("Model is C, C for cat, H, H for hat, four hundred.", {"model": "CH400"}),
    ("The model is S as in sugar, S as in sugar, fourteen.", {"model": "SS14"}),
    ("Model's D as in, er, dog, eleven hundred.", {"model": "D1100"}),
    ("Model F R two hundred, oblique, two.", {"model": "FR200/2"}),
    ("Model E W four sixty with a dash S on the end.", {"model": "EW460-S"}),
    ("Model P seven oh seven followed by a K.", {"model": "P707K"}),
    ("Model number is T nine, dot, four, space, G.", {"model": "T9.4G"}),
    ("Serial starts with a nought, then six six one, then a Q.", {"serial": "0661Q"}),
    ("Serial's two six, two six again, H for Harry.", {"serial": "2626H"}),
    ("Serial nineteen oh six, double seven.", {"serial": "190677"}),
    ("S N, zulu, two, two, four, six.", {"serial": "Z2246"}),
    ("The serial on the back is three nine, triple one.", {"serial": "39111"}),
    ("And the serial's inside the door, six one six, two two nine.", {"serial": "616229"}),
]

GOES_ON = [
    ("Model K L forty, four star freezer.", {"model": "KL40"}),
    ("Job two two one, three visits so far.", {"work_order": "221"}),
    ("Model Z Z ten, six hundred A in it.", {"model": "ZZ10"}),
    ("Model J four two, J for jam.", {"model": "J42"}),
    ("Model's a K R sixty, K for kettle, R for red, sixty.", {"model": "KR60"}),
    ("Serial four four zero one, again, four four zero one.", {"serial": "4401"}),
    ("Serial four four one two, something's rattling in here.", {"serial": "4412"}),
    ("Model Q X nine, couldn't read the serial.", {"model": "QX9"}),
]

WRITTEN = [
    ("Serial No. 4417-22.", {"serial": "4417-22"}),
    ("S/N 4417B.", {"serial": "4417B"}),
    ("Job No. 5512, upright freezer.", {"work_order": "5512"}),
    ("The model's FR220E and the serial's 90-1144.", {"model": "FR220E", "serial": "90-1144"}),
    ("QZ 418 is the model.", {"model": "QZ418"}),
]

ANEW = [
    ("Serial six six one, no, six six two, four oh.", {"serial": "66240"}),
    ("Serial, one oh one, start again, one one oh one seven.", {"serial": "11017"}),
    ("Work order five five one, scrap that, five six one, nine.", {"work_order": "5619"}),
    ("Serial four one, I mean one four, two two.", {"serial": "1422"}),
    ("Serial two two oh eight. No, two two oh nine.", {"serial": "2209"}),
    ("Model Q P four one. Sorry, Q P four seven.", {"model": "QP47"}),
    ("The model's K B two two oh. No, wait, that's K D two two oh.", {"model": "KD220"}),
]

APART = [
    ("Let me get the serial number.|Nine, four, four, one, oh, two.", {"serial": "944102"}),
    ("Now the model.|That's a C W three thirty.", {"model": "CW330"}),
    ("Here's the work order.|It's six oh two two.", {"work_order": "6022"}),
    ("G R six sixty. That's your model.", {"model": "GR660"}),
    ("Nine nine oh two four. Serial number.", {"serial": "99024"}),
    ("Now the serial.|Four screws.", {}),
    ("Checked the serial number.|Thirty six ohms.", {}),
]


IN_FULL = [
    ("Serial ends in four four, the whole of it is nine one two four four.", {"serial": "91244"}),
    ("Model ends in an R, the whole thing's K D two oh R.", {"model": "KD20R"}),
    ("Model ends in a P, so that's L K two six P altogether.", {"model": "LK26P"}),
    ("Model L M two two, it ends in a B.", {"model": "LM22B"}),
    ("Model B, T, four, then a smudge, so B T forty one.", {"model": "BT41"}),
    ("Work order, no, here's the whole of it, six six one eight.", {"work_order": "6618"}),
    ("Serial ends with a four, I can't see the rest.", {}),
    ("Serial, the last four digits are one one two two.", {}),
]

ASKED = [
    ("What's the model on this one?|It's a K L sixty.", {"model": "KL60"}),
    ("Which job number are we on?|Four four one nine.", {"work_order": "4419"}),
    ("Have you got the serial?|Yes, eight eight one oh.", {"serial": "8810"}),
    ("What's the serial?|Four screws and it's off.", {}),
    ("What's the serial on the old one?|It was four four one two.", {}),
    ("Is it the same model as the last one?|Four screws again.", {}),
]

PAUSED = [
    ("The serial's, hang on, glasses. Right. Five five oh two nine.", {"serial": "55029"}),
    ("Serial number. Let me wipe it. Okay. Seven one oh two nine.", {"serial": "71029"}),
    ("Model's on the hinge side, can barely see it, it's an R D sixty six.", {"model": "RD66"}),
    ("Let me get the serial.|Hang on. Plug's out. Nine screws.", {}),
]

CARRIED_ON = [
    ("Serial number six six two.|Then tango four four.", {"serial": "662T44"}),
    ("Job number seven one oh two.|Slash three.", {"work_order": "7102/3"}),
    ("Serial seven seven oh one. No. Seven seven oh two.", {"serial": "7702"}),
    ("Model K L forty.|Then four screws.", {}),
    ("Serial four four one two.|Dash it, dropped a screw.", {}),
]

UNNAMED = [
    ("It's a G T sixty B freezer.", {"model": "GT60B"}),
    ("This one's a K R one twenty.", {"model": "KR120"}),
    ("It's a W L eighty, and the serial's four oh four one.", {"model": "WL80", "serial": "4041"}),
    ("S slash N, K four four nine one.", {"serial": "K4491"}),
    ("Three three oh seven seven's the serial.", {"serial": "33077"}),
    ("Log this under seven seven one oh.", {"work_order": "7710"}),
    ("It's a K L forty heater, no good here.", {}),
    ("It's a B sixteen breaker.", {}),
    ("It's an E twenty one error on the freezer.", {}),
]

BESIDE = [
    ("I'm in flat nine, and it's a model T T forty.", {"model": "TT40"}),
    ("Flat six, job number four four one two.", {"work_order": "4412"}),
    ("Phone's oh seven seven one two, serial's nine nine one two.", {"serial": "9912"}),
    ("Job six six one oh, nine o'clock start.", {"work_order": "6610"}),
    ("Serial eight eight zero one two, and the door code's four four one.", {"serial": "88012"}),
    ("Job for Mary, number four four one two.", {"work_order": "4412"}),
]


@pytest.mark.parametrize(
    ("said", "want"),
    [
        *AFTER,
        *SPELLED,
        *GOES_ON,
        *WRITTEN,
        *ANEW,
        *APART,
        *IN_FULL,
        *ASKED,
        *PAUSED,
        *CARRIED_ON,
        *UNNAMED,
        *BESIDE,
    ],
)
def test_identifiers_where_they_are_announced(said: str, want: dict[str, str]) -> None:
    assert fields(said) == want


@pytest.mark.parametrize(
    ("said", "want"),
    [
        ("Right, er, two two oh nine, tall freezer in a student house.", {"work_order": "2209"}),
        ("Okay, four four one seven, dishwasher, second floor.", {"work_order": "4417"}),
        ("The plug's out.|Two two oh nine, tall freezer.", {}),
        ("Nine fifteen, tall freezer in a student house.", {}),
        ("Fourteen forty, fridge freezer.", {}),
        ("K L forty, larder fridge.", {}),
        ("Four four one two Elm Road, fridge freezer.", {}),
        ("Room four one two one, minibar.", {}),
        ("Two thousand and nineteen, fridge freezer, in good nick.", {}),
        ("One, two, three, four, fridge freezer.", {}),
        ("Four four one two, plug's out.", {}),
    ],
)
def test_a_bare_number_that_opens_a_job(said: str, want: dict[str, str]) -> None:
    assert fields(said) == want


@pytest.mark.parametrize(
    ("said", "serial"),
    [
        ("Serial T one nine zero three, and is that a three? Yeah, three.", "T19033"),
        ("Serial K T four four, and is that a B? Yes, B.", "KT44B"),
        ("Serial T one nine zero three, is that a three? Yeah, it is.", "T1903"),
        ("Serial four four one seven, is that right? Yeah.", "4417"),
        ("Serial four four one seven, is it plugged in?", "4417"),
        ("Serial T one nine zero three, and is that a three?", None),
        ("Serial T one nine zero three, and is that a three? I can't tell.", None),
        ("Serial T one nine zero three, and is that a three or an eight? Yeah.", None),
        ("Serial T one nine zero three, is that an eight? Yeah, eight.", None),
    ],
)
def test_a_sign_that_is_asked_for_counts_where_it_is_agreed_to(said: str, serial: str | None) -> None:
    assert fields(said).get("serial") == serial


@pytest.mark.parametrize(("said", "want"), ORDERS)
def test_the_work_order_under_other_names(said: str, want: str) -> None:
    assert fields(said) == {"work_order": want}


@pytest.mark.parametrize(
    "said",
    [
        "Couldn't get the serial, it's behind the two hundred kilo worktop.",
        "Serial three three one oh, last digit's worn.",
        "Serial's too worn to read.",
        "Serial's four four something, I can't make out the rest.",
        "The serial ends in four four seven, the rest has gone.",
        "The serial might be seven one four or seven one nine.",
        "Model X L three, or is it an eight, forty.",
        "I'll get the serial before I leave.",
        "No serial on this one, the sticker's gone, four screws hold the panel.",
        "It's the same model as the one on Tuesday.",
        "The compressor's serial is four four one oh nine.",
        "The last job, four four one two, was worse.",
        "That's a two man job, four bolts.",
        "Ninety screws later the job is done.",
        "Big job, two hundred and forty litres.",
        "On the job there were three forty five degree elbows.",
        "Put the plugs on in order, one, two, three.",
        "Order another gasket, that's two hundred and ten.",
        "What's on the plate for the model?",
        "The old job was four four one two.",
        "Last week's ticket was five five one two.",
        "The docket was four four one two, ages ago.",
        "The model before this was K L thirty.",
        "The gauge set's serial number is four four one oh.",
        "This job is nine fifteen to ten thirty.",
        "Peter said four screws and six clips.",
        "David's at number fourteen.",
        "Log this under safety, four screws missing.",
        "Serial one two three four, sorry, that three is an eight.",
        "Serial one two three four, the four's a five.",
        "Serial one two three four, change the last one to a five.",
        "Serial one two three four, scratch the four, five.",
        "Serial eight three three, or was it three eight.",
        "Model F two hundred, F three hundred sorry.",
        "Job number's two two, no that's the flat.",
        "Job card says fourteen screws.",
        "Work sheet, two screws.",
        "Visit two of two, four screws in.",
    ],
)
def test_no_identifier_is_made_of_a_doubt_or_a_count(said: str) -> None:
    assert fields(said) == {}


@pytest.mark.parametrize(
    ("lines", "value"),
    [
        (("Job four four two.", "Um, four four two nine."), "4429"),
        (("Ticket six one.", "Six one zero, four.", "Plug's out."), "6104"),
        (("Job four four two.", "Four four two ohms on the heater."), "442"),
        (("Ticket six one oh.", "Six one oh eight screws."), "610"),
        (("Ticket six one oh.", "Six bolts out."), "610"),
    ],
)
def test_a_number_broken_off_and_said_over_in_the_next_sentence(lines: tuple[str, ...], value: str) -> None:
    found = [i.value for i in read_statements(narrated(*lines), TRADE).identity if i.field == "work_order"]
    assert found[-1] == value


def test_a_later_count_beside_a_weak_word_leaves_the_work_order() -> None:
    told = read_statements(narrated("Ticket four one two two.", "Three hundred and ten on the job."), TRADE)
    assert [i.value for i in told.identity if i.field == "work_order"] == ["4122"]


def test_a_part_number_that_the_sentence_before_announced() -> None:
    found = answer("On the new one it's printed J K, two hundred, M.", "Part number for the office.", TRADE)
    assert found["parts_used"] == [{"part_number": "JK200M"}]


@pytest.mark.parametrize(
    ("said", "number"),
    [
        ("New fan's in, part number F A, dash, six one one, and its clip snapped.", "FA-611"),
        ("New pump's up on the same three bolts, and that's a P V, one seven, dash, A.", "PV17-A"),
        ("Old thermistor out, new one in. T R dash two six.", "TR-26"),
        ("New fuse is in. Code T K seven four.", "TK74"),
        ("New thermistor's in, nine point six K.", None),
        ("New drier, R six hundred A.", None),
        ("New gasket on, four screws.", None),
        ("Used a start relay, S K forty one B.", "SK41B"),
        ("Replaced the thermostat with a T H double two.", "TH22"),
        ("Thermostat went in, T S two oh nine A.", "TS209A"),
        ("The bag says K T four one one.", "KT411"),
        ("New stat, number's six six B, four zero.", "66B40"),
        ("The new board's got B D six six stamped on it.", "BD66"),
        ("P N is K D forty one.", "KD41"),
        ("Part. G M, eight eight, stroke, one.", "GM88/1"),
        ("Part number ends in A, full number H E two two A.", "HE22A"),
        ("Part number V V six one. No, make the last digit a five.", "VV65"),
        ("I put in part number C T twenty, the old one was C T nineteen.", "CT20"),
        ("I'll be ordering part number K K four four one.", None),
        ("Part number K K four four one is on back order.", None),
        ("Part number K L thirty won't fit this.", None),
        ("I've fitted the wrong one, P P six six oh.", None),
        ("Used a bit, T forty five.", None),
        ("Used the torx, T twenty.", None),
        ("Fitted it to breaker B sixteen.", None),
        ("New fan, plugged into C N seven seven.", None),
        ("Used a hundred and ten grams of R six hundred A.", None),
    ],
)
def test_part_numbers_of_new_parts(said: str, number: str | None) -> None:
    found = answer(said, None, TRADE)["parts_used"]
    assert [f["part_number"] for f in found] == ([number] if number else [])


@pytest.mark.parametrize(
    ("lines", "number"),
    [
        (("The old motor out.", "The new motor is part number F M, six six two.", "New motor fitted."), "FM662"),
        (("The old motor out.", "The new motor is part number F M, six six two.", "New drier fitted."), None),
        (("New relay fitted, cover refitted.", "New motor is F M, six six two."), None),
        (("I'll order the new motor, part number F M, six six two.", "New motor fitted."), None),
    ],
)
def test_a_number_read_out_before_its_part_is_fitted(lines: tuple[str, ...], number: str | None) -> None:
    """What is read out for a new part waits for the step that fits a part of that name, and is no other's."""
    used = told(TRADE, *lines).parts_used
    assert number in {p.part_number for p in used}
    assert {p.part_number for p in used} <= {None, number}


def test_two_part_numbers_of_one_sentence() -> None:
    said = "Fitted the pump, part number P U one one, and its seal, part number S E two two."
    assert [p["part_number"] for p in answer(said, None, TRADE)["parts_used"]] == ["PU11", "SE22"]


def test_a_part_number_said_anew_stays_with_its_part() -> None:
    lines = ["Fitted a new evaporator fan, part number F A six one.", "No, sorry, F A six five."]
    told = read_statements(narrated(*lines), TRADE)
    assert [a.part_number for a in told.acts if a.part_number] == ["FA65"]


BY_THE_CLOCK = [
    ("In at ten to nine, out at quarter past ten, that's labour.", 85),
    ("Labour from half past eight till ten.", 90),
    ("Got here at nine fifteen, left at eleven, put it down as labour.", 105),
    ("On site from ten twenty to eleven fifty.", 90),
    ("Arrived oh nine hundred, left eleven thirty.", 150),
    ("Started at quarter to two and finished at ten past three, all labour.", 85),
    ("In at nine, out at one, less half an hour for lunch.", 210),
    ("I worked from nine till half twelve with twenty minutes for lunch.", 190),
    ("Labour thirteen hundred to fourteen fifteen.", 75),
    ("From ten till quarter to twelve, so an hour forty five.", 105),
    ("Ten till twelve, less a quarter of an hour for parking, so an hour and a half labour.", 90),
    ("Labour for the sheet.|From eight forty to ten past ten.", 90),
    ("How long were you at it?|Nine till ten thirty.", 90),
    ("Here from two to four, minus a quarter of an hour for the tea.", 105),
    ("Two hours, less ten minutes.", 110),
    ("Time for the sheet. I got here at ten, it's quarter to twelve, so an hour forty five.", 105),
    ("Time. Got here at ten, and it's quarter to twelve now.", 105),
    ("I came at nine, it's now ten to ten, so fifty minutes.", 50),
    ("Been here since nine, it's half past ten, so an hour and a half.", 90),
    ("Clocked in at eight, clocking off at nine twenty.", 80),
    ("Two hours, less the lunch, so one and a half.", 90),
    ("Three hours minus the half hour lunch.", 150),
    ("Today's two hours ten, plus the forty, so two fifty all up.", 170),
    ("Labour forty, no, forty five.", 45),
    ("Thirty for the first visit and forty today, so seventy minutes between the two.", 70),
    ("That was an hour and a quarter's labour.", 75),
    ("Hour and a half. Joe was here the first half hour, don't bill Joe.", 90),
]


@pytest.mark.parametrize(("said", "minutes"), BY_THE_CLOCK)
def test_the_time_worked_by_the_clock_and_less_breaks(said: str, minutes: float) -> None:
    assert fields(said) == {"labour_min": minutes}


WORKED = [
    ("Two hours ten, and I still want my dinner.", 130),
    ("One hour fifty, sir, with the solder.", 110),
    ("And two hours, with the mice.", 120),
    ("Hour and a half, no, hour and three quarters, I'd to go back for the nitrogen.", 105),
    ("Two hours, naw, put two and a half.", 150),
    ("An hour and a quarter, that is.", 75),
    ("An hour forty five, put that.", 105),
    ("Fifty minutes, with the dog helping.", 50),
    ("Hour and three quarters on the job.", 105),
    ("One point two five hours, labour.", 75),
    ("Labour's an hour less five minutes.", 55),
    ("Labour two hours, less a quarter of an hour for lunch.", 105),
    ("So in total two hours and ten.", 130),
    ("Fifty minutes. Call it fifty five, with the lift being broken.", 55),
    ("Two hours. No, make it an hour and fifty.", 110),
    ("An hour and a quarter. Sorry, an hour and a half.", 90),
    ("Ninety minutes all told.", 90),
    ("Mark me down for an hour.", 60),
    ("Put it down as two and a half hours.", 150),
    ("Charge them an hour.", 60),
    ("Call it the hour.", 60),
    ("An hour's work.", 60),
    ("Labour, forty.", 40),
    ("That took me an hour and forty.", 100),
    ("That makes two hours over the two visits.", 120),
    ("I was here an hour and a half.", 90),
    ("Work done in one hour and half.", 90),
    ("Three quarters of an hour.", 45),
    ("Seventy minutes, and I'm not charging for the coffee.", 70),
    ("Labour's an hour and a half, that's with the wait for the key.", 90),
    ("The vacuum alone was forty minutes, labour two hours.", 120),
    ("Half hour soak, then an hour's labour.", 60),
    ("Yesterday an hour, today forty minutes, a hundred minutes altogether.", 100),
    ("I was on this one two hours and a quarter, bill it as labour.", 135),
    ("First visit forty minutes, this one an hour ten, so one hour fifty.", 110),
    ("In at nine, out at ten thirty, so an hour and a half.", 90),
    ("Travel was thirty minutes, labour one hour.", 60),
    ("Thirty five minutes of actual work.", 35),
    ("Labor, 1 hour 40 minutes.", 100),
    ("That's two hours with the waiting about.", 120),
    ("First trip was forty five minutes, today's an hour fifteen, that's two hours.", 120),
    ("Eight till half nine, ninety minutes.", 90),
    ("Billable's an hour and a half.", 90),
    ("I've been an hour and twenty minutes here.", 80),
    ("That's two hours ten with the wait for the key.", 130),
    ("An hour and a half including the tidying up.", 90),
    ("It's minus thirteen now, and that's an hour and three quarters, not counting the dinner.", 105),
    ("Labour's an hour and ten without the phone call.", 70),
    ("Forty minutes, and ten of them were the wine cooler.", 40),
    ("Fifty minutes, and half of that was finding the stopcock.", 50),
    ("Two hours, half of it on my knees.", 120),
    ("Two hours, take off twenty minutes for the talking, so an hour forty.", 100),
    ("Three hours, as near as makes no difference, so put three.", 180),
    ("Labour. Two and a half.", 150),
    ("Labor.|Nah, put two and a half.", 150),
    ("Labour. Forty.", 40),
    ("Labour.|Put fifty.", 50),
    ("Two hours less smoko. Call it one forty five.", 105),
    ("Two hours less the lunch. Make it one and three quarters.", 105),
    ("For the time, you write one hour less five minutes.", 55),
]


@pytest.mark.parametrize(("said", "minutes"), WORKED)
def test_the_time_worked(said: str, minutes: float) -> None:
    assert fields(said) == {"labour_min": minutes}


@pytest.mark.parametrize(
    "said",
    [
        "Left it running for an hour and it's down to four.",
        "Vacuum held for thirty minutes.",
        "Twenty minutes under nitrogen.",
        "Twenty minutes, with the steamer.",
        "Half an hour, with the pump running.",
        "An hour with the door open.",
        "An hour and ten, I had to wait for the coil to cool.",
        "Vac pump on. Forty minutes.",
        "Stuck in traffic for an hour.",
        "The other job took two hours.",
        "Give it two hours before you load it.",
        "Fifteen minutes in, the fan's still quiet.",
        "That's ten minutes on the gauge and it hasn't moved.",
        "Waited half an hour for the key.",
        "The cycle's an hour and fifty on this one.",
        "It ran forty minutes on the clock.",
        "Steamed it for forty minutes in all.",
        "Call it ten minutes at temperature.",
        "Water came in for twenty seconds, call it twenty.",
        "In total the vacuum was two hours.",
        "That's an hour and it's still at nine.",
        "Put the heater on for ten minutes.",
        "Compressor on for an hour, cabinet at three.",
        "Half an hour. Minus nine and dropping.",
        "I've an hour's drive home.",
        "I'll be back in an hour.",
        "They're open from nine to five.",
        "The test ran from nine fifteen to ten thirty.",
        "Book me in from nine to ten tomorrow.",
        "Be here at nine, away by ten, hopefully.",
        "The customer was here from nine to ten.",
        "Peter was in at nine, out at ten.",
        "I was on the phone from nine till ten.",
        "Left it on from one till three, labour's to follow.",
        "In at two bar, out at four bar.",
        "Arrived at minus four, left at minus twenty.",
        "Should be about two hours' labour if the part's in.",
        "Could be two hours labour, that.",
        "It'll be an hour's labour when I come back.",
        "An hour's labour if I can get the part.",
        "Last time that was two hours labour.",
        "Labour rate's sixty an hour.",
        "Labour, one forty five.",
        "Half an hour. Twenty minutes more on the vacuum.",
        "That's two hours with the pump running.",
        "Fifty minutes and it's at minus four.",
        "It's an hour from the depot.",
        "Test ran eight till half nine, ninety minutes.",
        "The power was off eight till half nine, ninety minutes.",
        "It ran half an hour, then half an hour, that's an hour.",
        "That's forty minutes with the heater on.",
        "Vacuum was two hours, not counting the lunch.",
        "The drive was two hours, not counting the stop.",
        "Labour two hours, less the lunch.",
        "Three hours, minus all that talking.",
        "Forty minutes, and ten of them were lunch.",
        "That's an hour so far.",
        "Labour. Put three.",
        "Labour. One forty five.",
        "Labour. Two oh five.",
        "Labour. Four screws.",
        "Started the test at ten, it's quarter past now.",
        "It tripped at ten, it's quarter to eleven now and no trip.",
        "For the time being, leave it two hours.",
        "You write it down every two hours.",
    ],
)
def test_other_times_are_no_labour(said: str) -> None:
    assert fields(said) == {}


def test_a_time_alone_is_no_labour_where_the_work_goes_on() -> None:
    work = ["Took the four screws out of the cover.", "Unplugged the fan.", "Fitted a new fan.", "Refitted the cover."]
    alone = read_statements(narrated(*work, "Fifty minutes."), TRADE)
    assert [i.value for i in alone.identity] == [50.0]
    gone_on = read_statements(narrated("Fifty minutes.", *work, "The door is shut."), TRADE)
    assert gone_on.identity == ()
    at_it = read_statements(narrated("I've been at it twenty minutes.", *work, "The door is shut."), TRADE)
    assert at_it.identity == ()


def _headings(line: str) -> list[str]:
    told = read_statements(narrated(line), TRADE).told
    return [t.topic for t in told if t.status == "done"]


@pytest.mark.parametrize(
    "line",
    [
        "So what killed it was a jammed fan.",
        "Blocked cap tube is what did it.",
        "Culprit's the defrost heater.",
        "There's your trouble, the drain's frozen solid.",
        "That'll be why it's warm.",
        "A mouse chewed the wire, which is why the fan's dead.",
        "It's not cooling because the fan's seized.",
        "Fault was the fan bearing, seized, nothing else.",
        "The element's open, and that's the whole problem.",
        "It comes down to a bad relay.",
        "Relay's burnt out, that's all it is.",
        "Bit of fluff in the fan, that's all that's wrong with it.",
        "So what we've got is a stripped damper gear.",
        "What you've got here is a blocked drain.",
        "It's bubbling at the drier, so that's where the gas is going.",
        "The gasket's torn and that's where the cold's getting out.",
        "There's a split right along the bottom, so that's your leak.",
        "Why, because the heater was broken, so no defrost.",
        "Well, there's your clatter.",
        "All down to a perished gasket.",
        "Problem found, condenser's choked with dog hair.",
        "Fault, open circuit heater.",
        "The root of it is a stuck damper.",
        "Traced it to a broken wire in the hinge.",
        "It's been the thermostat all along.",
        "The compressor's not starting because its relay's burnt.",
        "And that explains why it's warm.",
        "What happened is the fan jammed on the ice.",
        "What's wrong with it is the inlet valve's stuck open.",
        "So no defrost, on account of the heater being open.",
    ],
)
def test_causes(line: str) -> None:
    assert _headings(line) == ["cause"]


@pytest.mark.parametrize(
    "line",
    [
        "That's not the cause.",
        "The fan's not the problem.",
        "Cause unknown.",
        "I don't know the cause yet.",
        "I'm still looking for the cause.",
        "So that's, what, eight screws.",
        "That's what I use.",
        "I'd the plug out, that's why the clock's blinking.",
        "Water's shut at the meter, because the valve under the sink's seized.",
        "If it's the relay that's gone I'll be back.",
        "Fault light's out, no leak.",
        "All down to four degrees, freezer's frozen.",
        "The screw won't come out because the head's stripped.",
        "I didn't pull the plug because the lead's stuck.",
        "That explains nothing.",
        "What's wrong with it I can't say.",
        "It's been the coldest week all year.",
        "It's not stuck, that's all it is.",
        "Four screws, that's all it is.",
        "What we've got is a side by side, plumbed in.",
        "What I've got is a spare fan, not a broken one.",
        "That's where the water goes in.",
        "That's where the air comes out.",
        "That's your leak sorted.",
        "That's your leak test done.",
        "Why it leaks I don't know.",
    ],
)
def test_what_is_no_cause(line: str) -> None:
    assert "cause" not in _headings(line)


def _complains(line: str) -> bool:
    return any(complains(s.text) for s in sentences(spoken(line).segments[0], 1))


@pytest.mark.parametrize(
    "line",
    [
        "The old fella says it's not cold enough.",
        "Tenant rang in, says the freezer's dead.",
        "She's telling me there's water on the floor.",
        "It's been tripping the electrics, she says.",
        "It won't drain, according to herself.",
        "Job sheet says it's leaking.",
        "The note from the office says noisy.",
        "Docket has it as not draining.",
        "Reported, no ice.",
        "Problem reported is water leakage from below.",
        "Called out for a freezer that won't freeze.",
        "Booked in as not heating.",
        "The story is, it quit overnight.",
        "I'm told it beeps all night.",
        "Client complains that cooling is very less.",
        "Sir is saying ice is not forming.",
        "They rang because it's making a racket.",
        "Customer states unit not cooling.",
        "Tenant's been without ice for two weeks.",
        "They've had no ice since Friday.",
        "It hasn't made a cube for a month.",
        "Call is no cooling.",
        "She's on about a smell.",
        "They're getting water under the crisper.",
        "This is a no cool call.",
        "Party is complaining of no cooling.",
        "Household says it trips the breaker.",
        "It stopped on Sunday, says himself.",
        "They've rung because it never shuts off.",
        "There's been a puddle under it every morning, that's what they've rung about.",
        "She's emailed to say it's leaking.",
        "He sent a message, no ice.",
        "They've had us out because it's tripping the electrics.",
        "Tenant's words, it roars like a lorry.",
        "Old mate in the house reckons it's lukewarm up top.",
        "The lady says the salad's ice, when she put it on one, too.",
        "I'm here about a freezer that won't freeze.",
        "That's what I'm here for, a puddle under the fridge.",
        "You guys came up Friday, everything's thawed, no display.",
        "So you came home and the milk was warm.",
        "And you've been getting water on the floor every couple of days.",
        "You were telling me it's been buzzing all night.",
        "It's dead, you say, since Friday.",
        "Complaining of a funny smell.",
        "Fault as told to me, it's not defrosting.",
        "Reason I'm here, it's warm on top.",
        "What brought me out is a leak at the front.",
        "Had a call about a freezer icing up.",
    ],
)
def test_complaints(line: str) -> None:
    assert _complains(line)


@pytest.mark.parametrize(
    "line",
    [
        "He says the power's off.",
        "She says she switched it off at the wall.",
        "Owner says the water's off at the street.",
        "I told her not to overload it.",
        "The customer said go ahead.",
        "She says leave it.",
        "Customer says her oven's broken too.",
        "She says the other freezer's fine.",
        "The apprentice says it's unplugged.",
        "The meter says no volts.",
        "The tech sheet says two hundred ohms, not more.",
        "Customer says it's lovely and cold now.",
        "The landlord says he cleaned the coil.",
        "He says he never touched it.",
        "She's getting me a towel.",
        "The plug's been out since last night.",
        "Gasket's on order, no stock for two weeks.",
        "They've got no parking.",
        "I've not been here since Friday.",
        "She's got a dryer that squeals as well, but that isn't today's job.",
        "I'm told the isolator's off.",
        "According to the book it's two hundred ohms, not one.",
        "He found the plug out.",
        "I rang the office because the part's wrong.",
        "Had a call to say the part's in.",
        "They've rung for the key.",
        "They've rung to say it's working now.",
        "I've written it leaks on the sheet.",
        "That's why I'm here early, no traffic.",
        "You've got to keep the door shut or it'll ice up every week.",
        "You've got ice again, look.",
        "You'll get no ice for a day.",
        "You can hear the fan, no noise now.",
        "You've got a leak in the coil here.",
        "You've had water in it for weeks, so I've changed the valve.",
        "You said the power's off.",
        "It's dead, so I can work on it.",
    ],
)
def test_what_else_customers_say_is_no_complaint(line: str) -> None:
    assert not _complains(line)


@pytest.mark.parametrize(
    ("line", "headings"),
    [
        ("So you're getting no ice at all? Yeah.", ["complaint"]),
        ("So you've got water on the floor every couple of days? Okay, I see it.", ["complaint"]),
        ("So you're getting no ice at all?", []),
        ("So you're getting no ice at all? No, it's the water.", []),
        ("So you've turned the water off? Yeah.", []),
        ("Have you had water on the floor for weeks? Right.", []),
    ],
)
def test_a_complaint_put_as_a_question_counts_where_the_customer_agrees(line: str, headings: list[str]) -> None:
    assert _headings(line) == headings


@pytest.mark.parametrize(
    ("line", "headings"),
    [
        ("There's your cause, damper stuck open, dumping freezer air on her salad all day long.", ["cause"]),
        ("So the drain's blocked, that's your cause, it looks like the label off a cucumber.", ["cause"]),
        ("Cold as it is in there it ought to be closed, so there's your trouble.", ["cause"]),
        ("So that's what ails it, burnt board.", ["cause"]),
        ("What happened, the old brazing at the drier is cracked, so all the gas goes out.", ["cause"]),
        ("The gear's short three teeth, so it's been dumping freezer air on that lettuce.", ["cause"]),
        ("It comes down to one thing, the relay's burnt.", ["cause"]),
        ("Freezer came down to minus twelve.", []),
        ("It came down to about four degrees.", []),
        ("What happened to the fourth screw, it's broken off.", []),
        ("The drain was blocked, so it's been cleared.", []),
        ("It's been alarming since Sunday, everything's thawing.", ["complaint"]),
        ("Been like that since Sunday.", ["complaint"]),
        ("Customer pushes the paddle, it hums, and no ice comes down.", ["complaint"]),
        ("He was at the ice with a knife, it hissed, and it's not cooled since.", ["complaint"]),
        ("She's saying the freezer side's warm, the fridge isn't much better.", ["complaint"]),
        ("She says it's fine, it's been better since.", []),
        ("I left the paddle alone, not touched it since.", []),
    ],
)
def test_headings_that_no_word_announces(line: str, headings: list[str]) -> None:
    assert [h for h in _headings(line) if h in {"cause", "complaint"}] == headings


@pytest.mark.parametrize(
    ("line", "status"),
    [
        ("The drain's blocked, that's your cause, it looks like the label off a cucumber.", "done"),
        ("It's stopped, that's the trouble, it looks like the fan motor.", "unclear"),
        ("I think it's the fan, so that's your cause.", "unclear"),
        ("It might be stuck, so there's your trouble.", "unclear"),
        ("It's seized, that's the cause, I think.", "unclear"),
    ],
)
def test_a_doubt_beside_a_cause_counts_unless_it_is_of_something_else(line: str, status: str) -> None:
    assert [t.status for t in read_statements(spoken(line), TRADE).told if t.topic == "cause"] == [status]
