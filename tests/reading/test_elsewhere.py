"""What is said of another vehicle, time or person, or was only meant to be done, is never sure of this job.

The sentences are invented; that people speak so is common practice, no source."""

from __future__ import annotations

import pytest
from reading_forms import said

NEVER_SURE = {
    ("part",): [
        "the last shop put a new starter on this back in march according to the driver",
        "Nearly replaced the alternator there, glad I checked the belt first.",
        "Offered up a new bracket and the holes don't line up, so that's gone back to the counter.",
        "Oh brilliant, another new battery, yeah I'll just pull one out of my ear shall I.",
        "I would've changed the tensioner but there was none in the building",
        "Customer supplied a chassis harness, it's still sat in the cab.",
        "New compressor would be about nine hundred, he can think about it.",
        "looks like the turbo's been replaced before the tag on it's brand new",
        "parts have got the wrong radiator on order that's for the day cab down the road",
        "There's a new-looking filter in here, so someone's been in before us.",
        "should come with new bolts but it says here they don't supply them",
        "They'd ordered a steering pump for it in January and cancelled it.",
        "Bloke on the phone said he'd had one like this and he fitted a whole new harness.",
        "I've put a new air dryer on my own pickup and it was the same sort of plug",
        "Every one of these we've had in has needed a new EGR cooler.",
        "Put down a possible new slack adjuster on the rear, I'll know once it's measured.",
        "New pads are in the van but they're for tomorrow's trailer.",
        "let's say we replaced the valve block would it even clear I doubt it",
        "Ordered my lunch, they forgot the sauce.",
        "The old one's a three-piece gasket and the new style's one piece, apparently.",
    ],
    ("step",): [
        "Nearly took the wrong pipe off there.",
        "Customer says he tightened the wheel nuts himself on Sunday.",
        "the pressure test can wait until the hoses come",
        "Open circuit on pin three by the look of it.",
        "road test still to do",
        "Regen not done, soot's too high and it won't let me.",
        "the tow company disconnected the prop shaft before they brought it in",
        "get the wheels off get the drums off get the shoes off that's the plan for tomorrow",
        "airbag's been disconnected for years that does happen on these",
        "cleaning the bay can wait I said",
        "test station booked for nine on Friday",
        "We had the transmission out of the sister truck in May.",
        "Fill level's on the mark, so leave it alone.",
        "drained my coffee and that's the best part of the day so far",
        "He asked had I tested the alternator, I said no.",
        "pulled into the bay at ten and that's as far as we've got",
        "Bolt's rounded so the plate stays on for now.",
        "According to the sheet the filters were changed in spring.",
        "The removable panel behind the seat has got a crack in it.",
        "parked it outside because I need the space nothing's been touched on it",
    ],
    ("measurement",): [
        "Half-inch drive gun won't fit between the rails.",
        "torque wrench is set to 210 ready for the morning",
        "the relay's marked 24 V 20 amp on the lid",
        "Fifteen amp fuse in the slot, label says ten.",
        "jacks are good for twenty ton each",
        "Six cylinder, twelve point eight litre, that's all it says on the plate.",
        "ninety-five degrees in the shade and no fan in this shop",
        "regulator on the shop compressor's turned up to ten bar",
        "set the scope to five volts a division and still waiting for a trace",
        "The driver reckons the gauge was showing six bar on the motorway.",
        "they told me on the phone they'd had 23 volts at the roadside",
        "on the blue one it was reading eleven point nine bar and that's a different system",
        "Last visit sheet says the pads were nine mil.",
        "Pressure cap is a point nine bar one, it's stamped on the top.",
        "Hundred per cent sure that's not us that did that.",
        "feels about two mil of play but I've not put a clock on it",
        "Dial gauge goes to ten mil and it's in the other box.",
        "induction heater's set for 120 degrees C",
        "the wear limit on these discs is thirty-seven mil stamped on the bell",
        "yeah it's doing a million miles an hour that fan",
    ],
    ("fault_code",): [
        "Had a SPN 3251 FMI 0 on the other truck this morning.",
        "Gate code's four one zero two if you need to get out.",
        "it's the same symptom as a U0100 but there's no U0100 stored",
        "Laptop password's Papa one two three four, don't tell anybody.",
        "driver said the last garage found a P0299 but nothing in there now and nothing in the history",
        "I'd expect a SPN one oh two if that hose was off, and there isn't one.",
        "that bulletin covers P2463 and P244A and we've got neither",
        "Wiring diagram sheet B1342, that's the one for the rear lamps.",
        "connector's labelled C0040 on the diagram",
        "order ref U zero four one five, waiting on the courier",
        "On the sister vehicle it was P0087 and a filter sorted it.",
        "the code on the paint tin is B0012",
        "The tyre's got DOT code two three two one on it.",
        "it's not a P0401 the lad misread the screen",
        "Form U1900 wants filling in for the warranty people.",
        "don't ask me why but P0000 is what it puts up when it's happy",
        "In the training video they had SPN 3719 FMI 16 and a blocked filter.",
        "I bet you a fiver it's P0335",
        "The demo mode on the reader shows P0101, that's not real.",
        "reader was still showing the last vehicle's P0191 till I reselected",
    ],
    ("job_number", "registration", "vin", "odometer", "engine_hours"): [
        "the other one's done six hundred and ten thousand k and runs sweeter than this",
        "The fridge unit's got eight thousand hours on it, not the truck.",
        "he turned up in a car with the plate K L nine nine something",
        "key tag says 14",
        "Invoice sixty-one eleven never got paid, she says.",
        "Used to have one with VIN ending eight eight one two, same engine, nothing but trouble.",
        "driver's out of hours so he's staying in the hotel",
        "inspection ran out on three oh six twenty-six",
        "courier's tracking number is GX 4410 92",
        "Can't read the plate for mud.",
        "Fleet number's T oh six, no idea about the plate.",
        "Clutch lasted him two hundred thousand, he says.",
        "Next service is due at four hundred thousand.",
        "Account number's double seven oh five.",
        "engine serial's on the block somewhere 6 double 4 something",
        "Regen interval's forty hours, it says in the book.",
        "Last four of the chassis number on the donor truck were 4471.",
        "gate code's two five eight zero hash",
        "Job's a good 'un, as they say.",
        "road tested about twenty k no lights",
    ],
    ("clock",): [
        "the clock on the dash is an hour slow",
        "the regen paused itself at eighty per cent",
        "resume button on the cruise doesn't do anything",
        "night shift start at ten and they can have it",
        "He clocked off at noon, the lucky devil.",
        "the wipers park halfway and then carry on",
        "stop messing about with that air line",
        "I'll be starting on the trailer once this is gone.",
        "starter's hot and stinks",
        "back to square one with this wiring",
        "Regen started again on its own.",
        "The clock's been wound back on this if you ask me.",
        "Heater's off and on, off and on all day.",
        "Starts to shudder about forty and stops at fifty.",
        "started it up and it ran lumpy for a minute",
        "on and off switch is loose in the panel",
        "Turned the key to start and nothing, not even a click.",
        "Engine stopped dead at the lights, the driver says.",
        "Breaker's tripped on the wall.",
        "Won't start, just clicks.",
    ],
}


@pytest.mark.parametrize(
    ("kinds", "text"), [(kinds, text) for kinds, texts in NEVER_SURE.items() for text in texts]
)
def test_what_only_sounds_like_a_fact_of_this_job_is_never_sure(kinds: tuple[str, ...], text: str) -> None:
    assert [f for f in said(text) if f.kind in kinds and f.status == "sure"] == []


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("clocking on", "clock"),
        ("P0101 active on the engine controller", "fault_code"),
        ("fitted a new relay in the cab", "part"),
        ("boost at full load 1.9 bar", "measurement"),
        ("took the turbo off", "step"),
        ("odometer three hundred and twelve thousand kilometres", "odometer"),
    ],
)
def test_what_is_plainly_of_this_job_stays_sure(text: str, kind: str) -> None:
    assert [f.status for f in said(text) if f.kind == kind] == ["sure"]


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("the boss pulled the plug on it before we got near the engine", "step"),
        ("all four bolts came out sweet", "step"),
        ("pulled codes and got nothing", "step"),
        ("has anyone actually tightened those wheel nuts or are we just hoping", "step"),
        ("my patience is down to about two millimetres with this thing", "measurement"),
        ("hand me the nineteen mil spanner", "measurement"),
        ("I'd say it's somewhere round eighty degrees going by the back of my hand", "measurement"),
        ("hold on, hold on, I haven't started yet", "clock"),
        ("the one in the canteen stopped at ten past four sometime last winter", "clock"),
        ("the young one forgot to clock on again", "clock"),
        ("correction fluid's in the top drawer", "correction"),
    ],
)
def test_a_figure_of_speech_is_never_a_sure_fact(text: str, kind: str) -> None:
    assert [f for f in said(text) if f.kind == kind and f.status == "sure"] == []


def test_a_step_on_a_thing_that_no_lexicon_knows_is_for_a_person() -> None:
    (step,) = [f for f in said("took the fire extinguisher off") if f.kind == "step"]
    assert step.status == "check"
