"""An invented job for the documents: a coach that leans, with drawn pictures. Nobody's vehicle."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field
from datetime import datetime, timedelta, timezone
from decimal import Decimal
from typing import Any

from PIL import Image, ImageDraw, ImageFont

from jobnotes import record as r
from jobnotes.errors import Problem

SUMMER = timezone(timedelta(hours=2))
DAY = datetime(2031, 6, 17, 8, 2, 11, tzinfo=SUMMER)


def digest(name: str) -> str:
    return hashlib.sha256(name.encode()).hexdigest()


def note(number: int, start: datetime, length: float = 300.0) -> r.Note:
    name = f"note-{number}.m4a"
    stamp = r.RecogniserStamp("whisper", "tiny.en", digest("weights"))
    return r.Note(f"N{number}", name, digest(name), start, "container", length, stamp, "", ())


def photo(number: int, taken: datetime, **rest: Any) -> r.Photo:
    name = f"IMG_{number:04d}.jpg"
    size = {"width": 1600, "height": 1200, **{k: rest.pop(k) for k in ("width", "height") if k in rest}}
    return r.Photo(f"P{number}", name, digest(name), taken, "exif", **size, **rest)


@dataclass
class Facts:
    """Facts as they are spoken, one after another."""

    notes: dict[str, r.Note]
    told: list[r.Fact] = field(default_factory=list)

    def say(self, note_id: str, at_s: float, detail: r.Detail, quote: str, **rest: Any) -> r.Fact:
        start = self.notes[note_id].started_at
        given = {"confidence": 0.94, "status": "sure", **rest}
        fact = r.Fact(
            id=f"F{len(self.told) + 1}",
            detail=detail,
            quote=quote,
            note=note_id,
            start_s=at_s,
            end_s=at_s + 4.0,
            at=start + timedelta(seconds=at_s),
            **given,
        )
        self.told.append(fact)
        return fact


def coach() -> r.Record:
    """The whole job: three notes, nine photos, two doubtful statements, two private ones, two taken back."""
    notes = (
        note(1, DAY, 412.5),
        note(2, DAY + timedelta(minutes=73), 655.0),
        note(3, DAY.replace(hour=13), 301.2),
    )
    facts = Facts({n.id: n for n in notes})
    say = facts.say
    s = r.Statement
    say("N1", 3.2, r.Clock("start"), "clocking on now")
    say("N1", 6.8, r.Identity("job_number", "4820-B"), "job four eight two zero bravo")
    say("N1", 11.0, r.Identity("registration", "DEMO 482"), "registration demo four eight two")
    say("N1", 16.5, r.Identity("odometer", "312480", "km"), "three hundred and twelve thousand four eighty k")
    say(
        "N1",
        28.0,
        s(
            "complaint",
            "coach leans to the left at the rear after standing overnight and the ride is hard on that side",
        ),
        "driver says she leans to the left at the back after standing overnight, ride is hard that side",
    )
    say(
        "N1",
        47.0,
        r.FaultCode(
            "SPN 1044 FMI 1",
            "J1939",
            1044,
            1,
            "data valid but below normal range, most severe level",
            "active",
            14,
            "suspension",
        ),
        "S P N ten forty four F M I one, active, fourteen counts, suspension controller",
    )
    say(
        "N1",
        61.0,
        r.FaultCode("C1A2F-13", "chassis", state="stored", count=2),
        "charlie one alfa two foxtrot dash thirteen, stored, two",
        confidence=0.71,
        status="check",
        why="letters after a digit were hard to hear: “alfa two fox”",
    )
    say(
        "N1",
        80.4,
        r.Measurement(
            Decimal("5.1"),
            "bar",
            "pressure",
            "rear left air spring",
            ("engine running", "full height"),
            r.Limit(Decimal("7.5"), Decimal("8.5"), None, "said"),
            "outside",
        ),
        "five point one bar on the rear left spring engine running, "
        "should be seven and a half to eight and a half",
        photos=("P1",),
    )
    say(
        "N1",
        95.0,
        r.Measurement(
            Decimal("60.2"),
            "Ohm",
            "resistance",
            "CAN pair at the suspension plug",
            ("ignition off",),
            r.Limit(Decimal("55"), Decimal("65"), Decimal("60"), "workshop limits, sheet 12"),
            "within",
        ),
        "sixty point two ohms across the can pair, ignition off",
    )
    say(
        "N1",
        118.0,
        s(
            "finding",
            "soap bubbles show a leak at the lower bead of the rear left air spring; "
            "the rubber is split over about a hand’s width",
        ),
        "soap bubbles at the lower bead, rubber's split, about a hand wide",
        photos=("P2",),
    )
    say(
        "N1",
        131.0,
        r.PhotoCue("split in the bellows at the lower bead"),
        "taking a photo of the split",
        photos=("P2",),
    )
    say(
        "N1",
        150.0,
        s(
            "cause",
            "rear left air spring bellows split at the lower bead, chafed by a bracket that had worked loose",
            "air spring",
            "split",
        ),
        "cause is the bellows split at the bead, the bracket's come loose and rubbed it",
        photos=("P2", "P3"),
    )
    say(
        "N1",
        171.0,
        s("finding", "who fitted this bracket last should be made to walk home"),
        "whoever fitted this bracket last should be made to walk home",
        audience="workshop",
        photos=("P9",),
    )
    say("N1", 190.0, r.Clock("pause", "waiting for the air spring"), "pausing, waiting for the part")
    say("N2", 4.0, r.Clock("resume"), "back on it")
    say("N2", 22.0, r.Step("drained", "rear air tank"), "rear tank drained")
    say(
        "N2",
        41.0,
        r.Step("disconnected", "air line to the rear left air spring"),
        "air line off the rear left spring",
    )
    say("N2", 55.0, r.Step("removed", "wheel arch liner"), "arch liner out")
    say(
        "N2",
        63.0,
        r.Step("removed", "lower clamp ring bolts", Decimal("4")),
        "four bolts out of the lower clamp ring",
    )
    say("N2", 70.0, r.Step("removed", "height sensor linkage"), "height sensor link off")
    say(
        "N2",
        96.0,
        r.Part("rear left air spring", "removed", Decimal("1"), None, None, "11B-0093"),
        "old spring's out, serial eleven bravo double oh nine three",
    )
    say(
        "N2",
        120.0,
        r.Part("rear left air spring", "fitted", Decimal("1"), None, "AS 7740 215", "24K-1187", "new"),
        "new spring in, alfa sierra seven seven four zero two one five",
        photos=("P4", "P5"),
    )
    say("N2", 133.0, r.PhotoCue("label of the new air spring"), "photo of the label", photos=("P4",))
    say(
        "N2",
        152.0,
        r.Part("clamp ring bolt", "fitted", Decimal("4"), None, "B 12-60", None, "new"),
        "four new bolts",
    )
    say("N2", 160.0, r.Part("thread locker", "consumed", Decimal("2"), "mL"), "couple of mil of thread lock")
    say("N2", 171.0, r.Part("cable tie", "consumed", Decimal("6")), "half a dozen ties")
    say("N2", 184.0, r.Part("top plate", "reused", Decimal("1")), "top plate goes over from the old one")
    say(
        "N2",
        203.0,
        r.Measurement(
            Decimal("66"),
            "N.m",
            "torque",
            "clamp ring bolts",
            (),
            r.Limit(None, None, Decimal("66"), "said"),
            "within",
        ),
        "sixty six newton metres on the ring bolts",
    )
    say(
        "N2",
        204.5,
        r.Measurement(Decimal("60"), "N.m", "torque", "clamp ring bolts"),
        "sixty newton metres",
        status="rejected",
        superseded_by="F28",
    )
    say("N2", 230.0, r.Step("reconnected", "air line to the rear left air spring"), "air line's back on")
    say("N2", 244.0, r.Step("refitted", "wheel arch liner"), "liner back in")
    say("N2", 251.0, r.Step("filled", "rear air tank"), "filling the tank")
    say(
        "N2",
        280.0,
        s("loose_end", "air gauge hose is still on the test point"),
        "gauge hose is still on the test point, mustn't forget",
    )
    say(
        "N3",
        5.0,
        r.Measurement(
            Decimal("8.1"),
            "bar",
            "pressure",
            "rear left air spring",
            ("engine running", "full height"),
            r.Limit(Decimal("7.5"), Decimal("8.5"), None, "said"),
            "within",
        ),
        "eight point one bar now",
        photos=("P6",),
    )
    say(
        "N3",
        18.0,
        r.Measurement(
            Decimal("-0.05"),
            "bar",
            "pressure change",
            "rear circuit",
            ("ten minutes", "engine off"),
            r.Limit(Decimal("-0.2"), None, None, "said"),
            "within",
        ),
        "minus oh point oh five in ten minutes",
    )
    say(
        "N3",
        33.0,
        r.FaultCode(
            "SPN 1044 FMI 1",
            "J1939",
            1044,
            1,
            "data valid but below normal range, most severe level",
            "cleared",
        ),
        "codes cleared, ten forty four gone",
    )
    say("N3", 47.0, r.Step("tested", "ride height over a road test"), "road test, ride height's good")
    say(
        "N3",
        58.0,
        s(
            "correction",
            "replaced the rear left air spring and the clamp ring bolts, secured the bracket clear of the "
            "bellows, checked for leaks and calibrated the ride height",
        ),
        "replaced the spring and bolts, bracket secured, leak checked, height calibrated",
        photos=("P5", "P7"),
    )
    say(
        "N3",
        80.0,
        s("advisory", "rear right air spring shows fine cracks at the bead: replace at the next service"),
        "right one's got fine cracks, wants doing next service",
        photos=("P7",),
        confidence=0.66,
        status="check",
        why="“right” was hard to hear",
    )
    say(
        "N3",
        95.0,
        r.Part("height sensor linkage", "ordered", Decimal("1"), None, "HL 330 2"),
        "ordered a height link",
    )
    say(
        "N3",
        102.0,
        s("hazard", "jacking point at the rear left is rusty: use the axle stand position behind it"),
        "jacking point's rusty back left",
    )
    say(
        "N3",
        121.0,
        r.LabourSaid(Decimal("2.5"), "replace rear left air spring"),
        "two and a half hours on the spring",
    )
    say(
        "N3",
        133.0,
        r.Identity("odometer", "312497", "km"),
        "three one two four nine seven on the clock after the test",
        photos=("P8",),
    )
    say("N3", 150.0, r.Clock("stop"), "clocking off")
    say(
        "N3",
        160.0,
        s("advisory", "boss to ring the depot about the bill"),
        "boss needs to ring the depot about the bill",
        audience="workshop",
    )

    photos = tuple(
        photo(number, DAY + timedelta(minutes=minutes), camera="phone A", linked_by=linked, **rest)
        for number, minutes, linked, rest in (
            (1, 2, "time", {}),
            (2, 3, "cue", {"width": 1200, "height": 1600}),
            (3, 4, "time", {}),
            (4, 76, "cue", {}),
            (5, 77, "time", {"width": 1200, "height": 1600}),
            (6, 298, "time", {}),
            (7, 299, "time", {}),
            (8, 301, "time", {}),
            (9, 5, "time", {}),
            (10, 200, None, {}),
        )
    )
    return r.Record(
        job=r.Job(
            number="4820-B",
            registration="DEMO 482",
            odometer=r.Odometer("312480", "km"),
            customer="Harbour Line Coaches (invented)",
            technician="A. Sample",
            opened_at=DAY + timedelta(seconds=3),
            closed_at=DAY.replace(hour=13, minute=2, second=30),
        ),
        notes=notes,
        photos=photos,
        facts=tuple(facts.told),
        loose_ends=(
            r.LooseEnd("height sensor linkage is off and was not refitted", "F20", "off"),
            r.LooseEnd("air gauge hose is still on the test point", "F33", "connected"),
        ),
        claim_gaps=(
            r.ClaimGap(
                "vin",
                "the vehicle identification number is missing",
                "read it out from the plate, or photograph the plate",
                "refused",
            ),
            r.ClaimGap(
                "failed-part-photo",
                "no photo shows the failed part on the bench",
                "photograph the old air spring with its tag",
                "queried",
            ),
            r.ClaimGap("mileage-hours", "engine hours are not stated", "say the hours", "nice"),
        ),
        labour=(
            r.LabourLine("replace rear left air spring", Decimal("2.5"), "said", ("F42",)),
            r.LabourLine("time on the job", Decimal("3.9"), "clock", ("F1", "F14", "F15", "F44")),
        ),
        camera_clocks=(
            r.CameraClock(
                "phone A",
                3600.0,
                2,
                2,
                "an hour behind the notes: two photos fit their words once it is put right",
            ),
        ),
        problems=(Problem("IMG_0099.jpg", "cut short; photograph it again"),),
    )


def drawing(shot: r.Photo, _side: int) -> Image.Image:
    """A drawn stand-in for a photo: a gauge, a bellows, a label or an odometer, with its size kept."""
    image = Image.new("RGB", (shot.width, shot.height), "#b9c0c4")
    draw = ImageDraw.Draw(image)
    w, h = image.size
    middle, radius = (w // 2, h // 2), min(w, h) // 3
    number = int(shot.id[1:])
    big = ImageFont.load_default(size=radius // 4)
    for y in range(0, h, 40):
        draw.line((0, y, w, y + 60), fill="#aab2b7", width=6)
    box = (middle[0] - radius, middle[1] - radius, middle[0] + radius, middle[1] + radius)
    if number in (1, 6):
        draw.ellipse(box, fill="white", outline="black", width=18)
        draw.line(
            (*middle, middle[0] + (-radius // 2 if number == 1 else radius // 2), middle[1] - radius // 2),
            fill="#a01515",
            width=16,
        )
        draw.text(
            (middle[0], middle[1] + radius // 2),
            "5.1 bar" if number == 1 else "8.1 bar",
            fill="black",
            font=big,
            anchor="mm",
        )
    elif number in (4, 8):
        draw.rectangle(
            (box[0] - radius // 3, box[1] + radius // 2, box[2] + radius // 3, box[3] - radius // 2),
            fill="#f4efd8",
            outline="black",
            width=8,
        )
        draw.text(middle, "AS 7740 215" if number == 4 else "312497 km", fill="black", font=big, anchor="mm")
    else:
        for fold in range(5):
            top = box[1] + fold * radius * 2 // 5
            draw.rounded_rectangle(
                (box[0], top, box[2], top + radius * 2 // 5),
                radius=60,
                fill="#2b2f31",
                outline="#555",
                width=8,
            )
        if number in (2, 3):
            draw.line(
                (box[0] + 40, box[3] - 60, middle[0], box[3] - 90, box[2] - 200, box[3] - 50),
                fill="#d8d0c0",
                width=26,
            )
    return image
