"""The technician's page in a real Chromium, against a real server: what is recorded arrives, once and
unchanged, whatever dies meanwhile. The microphone is a file with a spoken job."""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import time
import wave
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image
from served import ROOT, Paired, Running, start
from served import paired as to_pair

from jobnotes.intake.recordings import Recording, mono_16k, open_recording

pytestmark = pytest.mark.browser
playwright = pytest.importorskip("playwright.sync_api")

CHROMIUM = "/usr/bin/chromium"
SPOKEN = ROOT / "sample_media" / "job" / "voice_20260210_081137.ogg"
PHOTOS = sorted((ROOT / "sample_media" / "job").glob("IMG_04*.jpg"))
PHONE = {"width": 360, "height": 740}
DESK = {"width": 1280, "height": 800}
MOST_LOST_S = 2.0
SENT_MS = 60_000

#: what is said aloud, and whether the microphone was on; utterances end after a while, as they do
VOICE = """
window.said = [];
const voice = {
  cancel() { clearTimeout(this.timer); },
  speak(utterance) {
    window.said.push({text: utterance.text, recorder: document.body.dataset.recorder});
    this.timer = setTimeout(() => utterance.onend?.(), 200);
  },
};
Object.defineProperty(window, "speechSynthesis", {get: () => voice});
"""
#: keeps the microphone's track where a test can end it, as a call does
TRACK = """
const ask = navigator.mediaDevices.getUserMedia.bind(navigator.mediaDevices);
navigator.mediaDevices.getUserMedia = async (wanted) => {
  const stream = await ask(wanted);
  window.track = stream.getAudioTracks()[0];
  return stream;
};
"""
WRONG_CLOCK = """
const Right = Date;
const late = %d * 1000;
globalThis.Date = class extends Right {
  constructor(...given) { given.length ? super(...given) : super(Right.now() - late); }
  static now() { return Right.now() - late; }
};
"""
ITEMS = """
() => new Promise((resolve) => {
  indexedDB.open("jobnotes").onsuccess = (opened) => {
    const reading = opened.target.result.transaction(["items", "pieces"]);
    const items = reading.objectStore("items").getAll();
    const pieces = reading.objectStore("pieces").getAllKeys();
    reading.oncomplete = () => resolve({items: items.result, pieces: pieces.result.length});
  };
})
"""


def microphone(path: Path, seconds: float, pause_s: float = 0.0) -> Path:
    """The beginning of a note of the sample job, then its noise only, as Chromium takes it: 48 kHz PCM."""
    samples = mono_16k(SPOKEN)[: round(seconds * 16000)]
    noise = np.random.default_rng(1).normal(0, 0.002, round(pause_s * 16000))
    samples = np.concatenate([samples, noise])
    finer = np.interp(np.arange(len(samples) * 3) / 3, np.arange(len(samples)), samples)
    with wave.open(str(path), "wb") as file:
        file.setparams((1, 2, 48000, 0, "NONE", ""))
        file.writeframes((np.clip(finer, -1, 1) * 32767).astype("<i2").tobytes())
    return path


@pytest.fixture(scope="module")
def driver() -> Iterator[Any]:
    if not Path(CHROMIUM).exists():
        pytest.skip("needs Debian's chromium")
    with playwright.sync_playwright() as driver:
        yield driver


@pytest.fixture(scope="module")
def browser(driver: Any, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Any]:
    with chromium(driver, microphone(tmp_path_factory.mktemp("microphone") / "spoken.wav", 20)) as browser:
        yield browser


@dataclass
class Phone:
    """A paired phone with the page open."""

    context: Any
    page: Any
    server: Running
    device: str = ""

    def open(self) -> None:
        """Open the page anew, as after a crash."""
        self.page = self.context.new_page()
        self.page.goto(f"{self.server.address}/capture")
        self.page.wait_for_selector("body[data-ready]")

    def new_job(self) -> None:
        self.page.click("#job")
        self.page.click("#new-job button[type=submit]")
        self.page.wait_for_selector("#jobs", state="hidden")

    def record(self, seconds: float) -> None:
        self.page.click("#record")
        self.page.wait_for_selector("body[data-recorder=recording]")
        self.page.wait_for_timeout(seconds * 1000)

    def stop(self) -> float:
        """How long it was, in seconds."""
        length = self.page.evaluate("document.getElementById('elapsed').textContent")
        self.page.click("#record")
        self.page.wait_for_selector("body[data-recorder=idle]")
        return seconds_of(length)

    def photograph(self, *files: Path) -> None:
        with self.page.expect_file_chooser() as chooser:
            self.page.click("#photo")
        chooser.value.set_files(list(files))

    def until(self, condition: str) -> None:
        """Playwright's own way needs eval, which the page's content security policy forbids."""
        deadline = time.monotonic() + SENT_MS / 1000
        while not self.page.evaluate(condition):
            assert time.monotonic() < deadline, f"{condition}: {self.page.inner_text('body')}"
            self.page.wait_for_timeout(100)

    def kept(self) -> dict[str, Any]:
        kept = self.page.evaluate(ITEMS)
        assert isinstance(kept, dict)
        return kept

    def wait_sent(self, count: int, unsent_pieces: int = 0) -> list[dict[str, Any]]:
        """Wait until the phone has so many entries, of which only so many pieces are left to send."""
        deadline = time.monotonic() + SENT_MS / 1000
        while time.monotonic() < deadline:
            kept = self.kept()
            settled = all(item["state"] in ("sent", "refused") for item in kept["items"])
            if settled and len(kept["items"]) == count and kept["pieces"] == unsent_pieces:
                return list(kept["items"])
            self.page.wait_for_timeout(100)
        raise AssertionError(f"not sent: {kept}, the page says {self.page.inner_text('header')}")

    def notes_heard(self, more_than: int = 0) -> int:
        """How many notes the page says were heard, once none is left to hear and they are that many."""
        said = "document.getElementById('progress').textContent"
        self.until(f"/heard[.]$/.test({said}) && parseInt({said}) > {more_than}")
        return int(self.page.evaluate(said).split()[0])

    def given(self) -> list[Path]:
        """What the server has of this phone, of all jobs."""
        return sorted((self.server.library / "serve" / "jobs").glob(f"*/given/*Z_{self.device}*"))


@contextlib.contextmanager
def chromium(driver: Any, microphone: Path) -> Iterator[Any]:
    """Chromium whose microphone hears that file, over and over."""
    browser = driver.chromium.launch(
        executable_path=CHROMIUM,
        args=[
            "--no-sandbox",
            "--disable-gpu",
            "--disable-background-networking",
            "--use-fake-ui-for-media-stream",
            "--use-fake-device-for-media-stream",
            f"--use-file-for-fake-audio-capture={microphone}",
        ],
    )
    yield browser
    browser.close()


def seconds_of(text: str) -> float:
    minutes, _, seconds = text.partition(":")
    return int(minutes) * 60.0 + int(seconds)


def digest(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


def recordings(phone: Phone) -> list[Recording]:
    return [open_recording(path, UTC) for path in phone.given() if path.suffix == ".webm"]


def same_on_both_sides(phone: Phone, items: list[dict[str, Any]]) -> None:
    """Each of them arrived, once, with the digest that the phone had worked out."""
    assert sorted(digest(path) for path in phone.given()) == sorted(item["sha256"] for item in items)


@pytest.fixture(scope="module")
def steady(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    """A server for all the tests that leave it alone."""
    running = start(tmp_path_factory.mktemp("steady") / "library")
    yield running
    running.kill()


@pytest.fixture
def mortal(tmp_path: Path) -> Iterator[Running]:
    """A server for one test, which may kill it."""
    running = start(tmp_path / "library")
    yield running
    if running.process.poll() is None:
        running.kill()


#: a clerk's session at each server, to pair phones with
clerks: dict[str, Paired] = {}


@pytest.fixture
def paired(browser: Any, request: pytest.FixtureRequest) -> Iterator[Callable[..., Phone]]:
    """A function that gives a phone, paired with the mortal server if the test has one."""
    name = "mortal" if "mortal" in request.fixturenames else "steady"
    server: Running = request.getfixturevalue(name)
    clerk = clerks.get(server.address)
    if clerk is None:
        clerk = clerks[server.address] = to_pair(server.browser(), server.codes["clerk"], "desk")
    contexts = []

    def pair(*scripts: str, browser: Any = browser, **options: Any) -> Phone:
        context = browser.new_context(
            **{"viewport": PHONE, "has_touch": True, "is_mobile": True, "permissions": ["microphone"]}
            | options
        )
        contexts.append(context)
        for script in (VOICE, TRACK, *scripts):
            context.add_init_script(script)
        page = context.new_page()
        page.goto(clerk.post("/api/pairing", {"role": "technician"}).json()["address"])
        page.fill("#name", "phone one")
        page.click("button[type=submit]")
        page.wait_for_url("**/capture*")
        page.wait_for_selector("body[data-ready]")
        device = page.evaluate("fetch('/api/me').then((answer) => answer.json())")["device"]
        return Phone(context, page, server, device)

    yield pair
    for context in contexts:
        context.close()


@pytest.fixture
def phone(paired: Callable[..., Phone]) -> Phone:
    return paired()


@pytest.fixture
def tapped(paired: Callable[..., Phone]) -> Phone:
    """A phone whose requests a test may hold, spoil or lose. It has no service worker, as Playwright's
    documentation advises: once, the requests of a page with one went past it."""
    return paired(service_workers="block")


@contextlib.contextmanager
def brought_back(phone: Phone) -> Iterator[None]:
    """The server that was killed, running again over the same library."""
    old = phone.server
    phone.server = start(old.library, port=int(old.address.rpartition(":")[2]))
    yield
    phone.server.kill()


# --- said, heard, said back ----------------------------------------------------------------------


def test_what_is_said_appears_as_facts_and_readings_are_said_back_after_the_stop(phone: Phone) -> None:
    phone.new_job()
    phone.record(20)
    assert phone.page.inner_text("#sign") == "Recording"
    phone.stop()
    assert phone.page.inner_text("#sign") == "Not recording"
    phone.page.wait_for_selector("#facts li", timeout=SENT_MS)
    facts = phone.page.inner_text("#facts")
    assert "60.2\N{NO-BREAK SPACE}Ω" in facts
    assert "corroded" in facts
    assert "corroded" in phone.page.inner_text("#words")
    assert phone.page.locator("#todo li").count() > 3  # it said no cause, no correction …
    phone.until("window.said.length >= 2")
    said = phone.page.evaluate("window.said")
    assert any("six zero point two ohms" in one["text"] for one in said)
    assert {one["recorder"] for one in said} == {"idle"}


def test_read_back_can_be_turned_off_and_stays_off(phone: Phone) -> None:
    phone.new_job()
    phone.record(20)
    phone.stop()
    phone.page.wait_for_selector("#facts li", timeout=SENT_MS)  # the control stands beside what was heard
    phone.page.click("#voice")
    assert phone.page.get_attribute("#voice", "aria-pressed") == "false"
    phone.page.reload()
    phone.page.wait_for_selector("body[data-ready]")
    assert phone.page.get_attribute("#voice", "aria-pressed") == "false"
    phone.page.wait_for_selector("#facts li", timeout=SENT_MS)
    heard = phone.notes_heard()
    phone.record(20)
    phone.stop()
    assert phone.notes_heard(more_than=heard) > heard
    assert phone.page.evaluate("window.said") == []


def test_starting_to_record_breaks_off_what_is_being_said_and_it_is_said_anew_afterwards(
    phone: Phone,
) -> None:
    phone.new_job()
    said = phone.page.evaluate(
        """async () => {
          const {ReadBack} = await import("/static/capture/readback.js");
          let listening = false;
          const readback = new ReadBack({V: "volts"}, () => listening);
          const fields = {quantity: "voltage", value: "24.6", unit: "V"};
          const reading = {kind: "measurement", status: "sure", fields};
          readback.add([reading, {...reading, fields: {...fields, value: "12.0"}}]);
          listening = true;
          readback.hush();
          await new Promise((later) => setTimeout(later, 600));
          const during = window.said.length;
          listening = false;
          readback.next();
          await new Promise((later) => setTimeout(later, 800));
          return [during, window.said.map((one) => one.text)];
        }"""
    )
    first, second = "voltage: two four point six volts", "voltage: one two point zero volts"
    assert said == [1, [first, first, second]]


#: letters by ICAO Annex 10, volume II
SPOKEN_FACTS: list[tuple[dict[str, Any], str | None]] = [
    (
        {"kind": "fault_code", "fields": {"code": "SPN 5246 FMI 7", "state": "active"}},
        "Code S P N five two four six, F M I seven, active",
    ),
    ({"kind": "fault_code", "fields": {"code": "P0299"}}, "Code papa zero two nine nine"),
    (
        {"kind": "fault_code", "fields": {"code": "P2080-64"}},
        "Code papa two zero eight zero dash six four",
    ),
    (
        {"kind": "part", "fields": {"name": "height sensor", "number": "7K3 290 56"}},
        "height sensor, part number, seven kilo three, two nine zero, five six",
    ),
    (
        {"kind": "measurement", "fields": {"quantity": "temperature", "value": "-5.0", "unit": "Cel"}},
        "temperature: minus five point zero degrees",
    ),
    ({"kind": "part", "fields": {"name": "clamp"}}, None),
    ({"kind": "finding", "text": "the hose is split", "fields": {}}, None),
    ({"kind": "fault_code", "status": "rejected", "fields": {"code": "P0299"}}, None),
]


def test_codes_readings_and_part_numbers_are_said_sign_by_sign(phone: Phone) -> None:
    script = """async ([facts, units]) => {
      const {spoken} = await import("/static/capture/readback.js");
      return facts.map((fact) => spoken(fact, units));
    }"""
    facts = [{"status": "sure"} | fact for fact, _ in SPOKEN_FACTS]
    assert phone.page.evaluate(script, [facts, {"Cel": "degrees"}]) == [said for _, said in SPOKEN_FACTS]


def test_what_may_be_left_in_the_vehicle_comes_first_and_what_can_be_put_right_later_last(
    phone: Phone,
) -> None:
    state = {
        "loose_ends": [
            {"text": "liner", "state": "off"},
            {"text": "screw", "state": "lost"},
            {"text": "plug", "state": "unplugged"},
        ],
        "claim_gaps": [
            {
                "message": "No cause. A claim without one is refused.",
                "remedy": "Say “cause”.",
                "severity": "refused",
                "fixable": "desk",
            },
            {"message": "No plate.", "remedy": "Photo of it.", "severity": "queried", "fixable": "here"},
            {"message": "No number.", "remedy": "Say it.", "severity": "refused", "fixable": "here"},
            # the words of a remedy tell nothing of when it can be done
            {"message": "No label.", "remedy": "Look at it.", "severity": "nice", "fixable": "open"},
        ],
    }
    script = (
        """async (state) => (await import("/static/capture/facts.js")).toDo(state).map((one) => one.title)"""
    )
    assert phone.page.evaluate(script, state) == [
        *("Screw", "Plug", "Liner"),
        *("No label", "No number", "No plate", "No cause"),
    ]


def test_what_was_said_before_a_pause_is_heard_while_it_still_records(
    paired: Callable[..., Phone], driver: Any, tmp_path: Path
) -> None:
    with chromium(driver, microphone(tmp_path / "pauses.wav", 14, 5)) as hears_pauses:
        phone = paired(browser=hears_pauses)
        phone.new_job()
        phone.record(1)
        phone.page.wait_for_selector("#facts li", timeout=SENT_MS)
        assert phone.page.inner_text("#sign") == "Recording"
        assert phone.page.evaluate("window.said") == []
        length = phone.stop()
        items = phone.wait_sent(len(phone.kept()["items"]))
        same_on_both_sides(phone, items)
        first, *rest = recordings(phone)
        assert rest
        whole = sum(recording.duration_s for recording in (first, *rest))
        assert length - MOST_LOST_S <= whole <= length + 1 + 0.5 * len(rest)  # the clock is cut to the second
        gap = (rest[0].started_at - first.started_at).total_seconds() - first.duration_s
        assert gap < 0.3
        phone.until("window.said.length >= 1")


def test_words_appear_while_it_still_records_and_give_way_to_those_that_count(
    paired: Callable[..., Phone], driver: Any, tmp_path: Path
) -> None:
    # a sentence and pauses that are too short for the recording itself to be turned over
    with chromium(driver, microphone(tmp_path / "breaths.wav", 13, 1.5)) as hears_breaths:
        phone = paired(browser=hears_breaths)
        phone.new_job()
        assert not phone.page.is_visible("#said-part")
        phone.record(1)
        phone.until("document.getElementById('said').textContent.includes('sixty point two')")
        assert phone.page.inner_text("#sign") == "Recording"
        assert "not final" in phone.page.inner_text("#said-title")
        assert phone.kept()["items"][0]["state"] == "open"
        assert not phone.page.is_visible("#facts li"), "nothing is read from them"
        phone.stop()
        assert "sixty point two" in phone.page.inner_text("#said"), "till the recording was heard"
        (item,) = phone.wait_sent(1)
        same_on_both_sides(phone, [item])
        phone.page.wait_for_selector("#facts li", timeout=SENT_MS)
        assert not phone.page.is_visible("#said-part")


def test_the_latest_words_are_in_sight_however_much_was_said(tapped: Phone) -> None:
    said = [f"Sentence number {at}, about the hose that split at its clamp." for at in range(12)]
    tapped.context.route("**/live/*", lambda route: route.fulfill(json={"said": said}))
    tapped.new_job()
    tapped.record(2)
    last = tapped.page.locator("#said p").last
    assert last.inner_text() == said[-1]
    edge = tapped.page.locator("#dock").bounding_box()
    box = last.bounding_box()
    assert box["y"] + box["height"] <= edge["y"]
    tapped.stop()


def test_what_is_being_said_just_now_is_shown_where_the_server_knows_it(tapped: Phone) -> None:
    told: list[tuple[int, int]] = []

    def tell(route: Any) -> None:
        at = int(route.request.url.rpartition("=")[2])
        told.append((at, len(route.request.post_data_buffer) // 2))
        said = ["The hose is split."] if len(told) > 2 else []
        route.fulfill(json={"said": said, "saying": "the clamp"} if len(told) > 1 else {"said": []})

    tapped.context.route("**/live/*", tell)
    tapped.new_job()
    tapped.record(3)
    assert tapped.page.inner_text("#said").split("\n\n") == ["The hose is split.", "the clamp …"]
    tapped.stop()
    assert tapped.page.inner_text("#said") == "The hose is split."
    starts, lengths = zip(*told, strict=True)
    assert starts == tuple(sum(lengths[:at]) for at in range(len(told))), "no sample missing, none twice"
    assert 1.5 * 16_000 < sum(lengths) < 4 * 16_000


@pytest.mark.parametrize("rate", [8000, 16_000, 44_100, 48_000])
def test_the_sound_that_is_sent_has_the_pitch_and_length_that_the_microphone_heard(
    phone: Phone, rate: int
) -> None:
    script = """async (rate) => {
      const context = new OfflineAudioContext(1, 2 * rate, rate);
      await context.audioWorklet.addModule("/static/capture/live-sound.js");
      const options = {numberOfInputs: 1, numberOfOutputs: 0, processorOptions: {rate: 16000}};
      const node = new AudioWorkletNode(context, "live-sound", options);
      const sent = [];
      node.port.onmessage = (event) => sent.push(...event.data);
      const tone = new OscillatorNode(context, {frequency: 1000});
      tone.connect(node);
      tone.start();
      await context.startRendering();
      await new Promise((later) => setTimeout(later, 300));
      return sent;
    }"""
    sent = np.array(phone.page.evaluate(script, rate), float) / 32768
    assert len(sent) == pytest.approx(2 * 16_000, abs=1600 + 16)  # the last piece may not be full
    heard = np.fft.rfftfreq(len(sent), 1 / 16_000)[np.abs(np.fft.rfft(sent)).argmax()]
    assert heard == pytest.approx(1000, abs=1)
    assert np.sqrt(np.mean(sent**2)) == pytest.approx(np.sqrt(0.5), rel=0.05)  # of a sine of full scale


@pytest.mark.parametrize("lacks", ["the browser", "the allowance", "the server", "an ear"])
def test_without_live_words_it_records_as_ever_and_says_nothing_of_it(
    paired: Callable[..., Phone], lacks: str
) -> None:
    scripts = {
        "the browser": "delete globalThis.AudioWorkletNode;",
        "the allowance": "Object.defineProperty(navigator, 'connection', {value: {saveData: true}});",
    }
    phone = paired(scripts.get(lacks, ""), service_workers="block")
    asked: list[str] = []

    def fail(route: Any) -> None:
        asked.append(route.request.url)
        route.abort() if lacks == "the server" else route.fulfill(status=503, json={"error": "no ear free"})

    phone.context.route("**/live/*", fail)
    phone.new_job()
    phone.record(3)
    assert not phone.page.is_visible("#notice")
    assert not phone.page.is_visible("#said-part")
    length = phone.stop()
    same_on_both_sides(phone, phone.wait_sent(1))
    (recording,) = recordings(phone)
    assert recording.duration_s >= length - MOST_LOST_S
    assert len(asked) == (0 if lacks in scripts else 1), "it isn't asked again at once"


def test_a_pause_is_told_from_a_breath_and_from_a_noise_that_goes_on(phone: Phone) -> None:
    script = """async (levels) => {
      const {Pauses} = await import("/static/capture/meter.js");
      const pauses = new Pauses();
      return levels.flatMap((level, at) => (pauses.hear(level, 1000 + at * 100) ? [at / 10] : []));
    }"""
    quiet, voice, loud = [-60.0], [-25.0], [-20.0]
    breath = quiet * 30 + (voice * 20 + quiet * 10) * 5
    assert phone.page.evaluate(script, breath) == []
    assert phone.page.evaluate(script, breath + quiet * 50) == [pytest.approx(20.0, abs=0.2)]
    assert phone.page.evaluate(script, quiet * 300) == []
    # an air line that opens hides the pause until it is taken for what there is
    (found,) = phone.page.evaluate(script, quiet * 20 + voice * 20 + loud * 600)
    assert 10 < found < 30


# --- photos --------------------------------------------------------------------------------------


def test_photos_in_a_row_arrive_unchanged_also_while_it_records(phone: Phone) -> None:
    phone.new_job()
    phone.record(1.5)
    phone.photograph(PHOTOS[0])
    phone.photograph(PHOTOS[1], PHOTOS[2])
    assert phone.page.inner_text("#sign") == "Recording"
    phone.stop()
    items = phone.wait_sent(4)
    same_on_both_sides(phone, items)
    assert {digest(photo) for photo in PHOTOS[:3]} <= {item["sha256"] for item in items}
    assert phone.page.inner_text("#photo-count") == "3"


# --- nothing is lost -----------------------------------------------------------------------------


def test_a_server_that_dies_during_a_recording_and_comes_back_gets_all_of_it(
    mortal: Running, phone: Phone
) -> None:
    phone.new_job()
    phone.record(7)  # some of it is with the server by then
    mortal.kill()
    phone.page.wait_for_timeout(2000)
    length = phone.stop()
    phone.photograph(PHOTOS[0])
    phone.until("document.getElementById('sending').textContent.includes('No connection')")
    assert phone.kept()["pieces"] >= length
    with brought_back(phone):
        same_on_both_sides(phone, phone.wait_sent(2))
    (recording,) = recordings(phone)
    assert recording.duration_s >= length - MOST_LOST_S
    assert recording.problem is None


def test_a_server_that_dies_during_an_upload_is_sent_the_rest_only(
    mortal: Running, tapped: Phone, tmp_path: Path
) -> None:
    large = tmp_path / "large.png"
    Image.fromarray(np.random.default_rng(1).integers(0, 256, (1300, 1400, 3), np.uint8)).save(large)
    offsets: list[int] = []

    def look(route: Any) -> None:
        if route.request.method == "PUT":
            offsets.append(int(route.request.headers["upload-offset"]))
            if len(offsets) == 4:
                mortal.kill()
        route.continue_()

    tapped.new_job()
    tapped.context.route("**/uploads/*", look)
    tapped.photograph(large)
    tapped.until("document.getElementById('sending').textContent.includes('No connection')")
    with brought_back(tapped):
        (item,) = tapped.wait_sent(1)
    assert item["sha256"] == digest(large)
    same_on_both_sides(tapped, [item])
    assert offsets.count(0) == 1
    assert offsets[4] == offsets[3]  # where it had stopped


def test_a_confirmation_that_is_lost_makes_no_second_note(tapped: Phone) -> None:
    lost: list[int] = []

    def lose(route: Any) -> None:
        if len(lost) < 2:
            lost.append(route.fetch().status)  # the server has done it
            route.abort()
        else:
            route.continue_()

    tapped.new_job()
    tapped.context.route("**/complete", lose)
    tapped.record(2)
    tapped.stop()
    same_on_both_sides(tapped, tapped.wait_sent(1))
    assert lost == [200, 200]
    assert len(tapped.given()) == 1


def test_bytes_that_were_spoilt_on_the_way_are_sent_anew(tapped: Phone) -> None:
    spoilt: list[bytes] = []

    def spoil(route: Any) -> None:
        if route.request.method == "PUT" and not spoilt:
            body = route.request.post_data_buffer
            spoilt.append(body)
            route.continue_(post_data=body[:-1] + bytes([body[-1] ^ 1]))
        else:
            route.continue_()

    tapped.new_job()
    tapped.context.route("**/uploads/*", spoil)
    tapped.photograph(PHOTOS[0])
    (item,) = tapped.wait_sent(1)
    assert spoilt
    assert [digest(path) for path in tapped.given()] == [item["sha256"]] == [digest(PHOTOS[0])]


@pytest.mark.parametrize("end", ["closed", "crashed"])
def test_a_tab_that_is_killed_loses_no_more_than_two_seconds(phone: Phone, end: str) -> None:
    phone.new_job()
    phone.record(5)
    length = seconds_of(phone.page.inner_text("#elapsed"))
    if end == "closed":
        phone.page.close()
    else:
        with phone.page.expect_event("crash"), pytest.raises(playwright.Error):
            phone.page.goto("chrome://crash", timeout=3000)
    phone.open()
    assert "cut off" in phone.page.inner_text("#notice-text")
    same_on_both_sides(phone, phone.wait_sent(1))
    (recording,) = recordings(phone)
    assert recording.duration_s >= length - MOST_LOST_S


def test_a_second_tab_leaves_the_recording_of_the_first_alone(phone: Phone) -> None:
    phone.new_job()
    phone.record(2)
    first = phone.page
    phone.open()
    assert phone.kept()["items"][0]["state"] == "open"
    phone.page = first
    phone.page.wait_for_timeout(2000)
    phone.stop()
    phone.wait_sent(1)
    (recording,) = recordings(phone)
    assert recording.duration_s > 3.5


def test_a_whole_job_without_a_network_arrives_once_afterwards(mortal: Running, phone: Phone) -> None:
    phone.page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    phone.context.set_offline(True)
    mortal.kill()
    phone.page.close()
    phone.open()  # from what the phone has kept
    phone.new_job()
    lengths = []
    for at in range(2):
        phone.record(2.5)
        phone.photograph(PHOTOS[at])
        lengths.append(phone.stop())
    phone.until("document.getElementById('sending').textContent.includes('4 kept')")
    phone.page.reload()
    phone.page.wait_for_selector("body[data-ready]")
    with brought_back(phone):
        phone.context.set_offline(False)
        same_on_both_sides(phone, phone.wait_sent(4))
    assert len({path.parent for path in phone.given()}) == 1
    for recording, length in zip(recordings(phone), lengths, strict=True):
        assert recording.duration_s >= length - MOST_LOST_S


def test_a_device_that_is_revoked_keeps_what_it_has_and_says_so(phone: Phone, steady: Running) -> None:
    phone.new_job()
    clerk = clerks[steady.address]
    device = phone.device
    assert clerk.request("DELETE", f"/api/devices/{device}").status_code == 204
    phone.record(2)
    phone.stop()
    phone.page.wait_for_selector("#pair", state="visible")
    assert phone.kept()["pieces"] >= 2
    code = clerk.post("/api/pairing", {"device": device}).json()["code"]
    phone.page.goto(f"{steady.address}/pair#{code}")
    phone.page.fill("#name", "phone one")
    phone.page.click("button[type=submit]")
    phone.page.wait_for_selector("body[data-ready]")
    same_on_both_sides(phone, phone.wait_sent(1))


def test_what_the_server_refuses_stays_on_the_phone_and_stops_nothing_else(
    phone: Phone, tmp_path: Path
) -> None:
    fake = tmp_path / "fake.jpg"
    fake.write_text("no picture at all")
    phone.new_job()
    phone.photograph(fake)
    phone.photograph(PHOTOS[0])
    phone.until("document.getElementById('sending').textContent.includes('refused')")
    kept = phone.wait_sent(2, unsent_pieces=1)  # the other photo may still be on its way
    assert {item["name"]: item["state"] for item in kept} == {"fake.jpg": "refused", PHOTOS[0].name: "sent"}
    phone.page.click("#kept summary")
    with phone.page.expect_download() as download:
        phone.page.click("text=Save a copy")
    assert Path(download.value.path()).read_text() == "no picture at all"


# --- how a recording ends ------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("happens", "reason"),
    [
        ("window.track.stop(); window.track.dispatchEvent(new Event('ended'))", "call"),
        (
            "Object.defineProperty(document, 'visibilityState', {get: () => 'hidden'});"
            "document.dispatchEvent(new Event('visibilitychange'))",
            "locked",
        ),
    ],
)
def test_a_call_or_a_locked_screen_ends_a_recording_cleanly_and_says_so(
    phone: Phone, happens: str, reason: str
) -> None:
    phone.new_job()
    phone.record(3)
    phone.page.evaluate(happens)
    phone.page.wait_for_selector("body[data-recorder=idle]")
    assert reason in phone.page.inner_text("#notice-text")
    phone.page.evaluate("delete document.visibilityState")
    (item,) = phone.wait_sent(1)
    assert reason in item["ended"]
    (recording,) = recordings(phone)
    assert recording.duration_s > 2.5


def test_the_camera_in_front_of_the_page_doesnt_end_a_recording(phone: Phone) -> None:
    phone.new_job()
    phone.record(1)
    with phone.page.expect_file_chooser() as chooser:
        phone.page.click("#photo")
    phone.page.evaluate(
        "Object.defineProperty(document, 'visibilityState', {get: () => 'hidden', configurable: true});"
        "document.dispatchEvent(new Event('visibilitychange'))"
    )
    phone.page.wait_for_timeout(500)
    phone.page.evaluate(
        "delete document.visibilityState; document.dispatchEvent(new Event('visibilitychange'))"
    )
    chooser.value.set_files([PHOTOS[0]])
    assert phone.page.inner_text("#sign") == "Recording"
    phone.stop()
    phone.wait_sent(2)


def test_without_a_microphone_it_says_what_to_do(paired: Callable[..., Phone]) -> None:
    denied = """navigator.mediaDevices.getUserMedia = async () => {
      throw new DOMException("", "NotAllowedError"); }"""
    phone = paired(denied)
    phone.new_job()
    phone.page.click("#record")
    phone.page.wait_for_selector("#notice", state="visible")
    assert "allow it" in phone.page.inner_text("#notice-text")
    assert phone.page.inner_text("#sign") == "Not recording"


# --- clocks --------------------------------------------------------------------------------------


def test_a_phones_clock_that_is_wrong_is_put_right_by_the_servers(paired: Callable[..., Phone]) -> None:
    phone = paired(WRONG_CLOCK % 3600)
    phone.new_job()
    before = datetime.now(UTC)
    phone.record(2)
    phone.stop()
    (item,) = phone.wait_sent(1)
    assert item["difference"] == pytest.approx(3600, abs=1)
    (recording,) = recordings(phone)
    assert recording.started_at_source == "file name"
    assert abs((recording.started_at - before).total_seconds()) < 5
    (sent,) = (phone.server.library / "serve" / "jobs").glob(f"*/sent/*Z_{phone.device}*.json")
    told = json.loads(sent.read_text())
    assert told["clock_difference_s"] == item["difference"]


# --- how it looks --------------------------------------------------------------------------------


def views(phone: Phone) -> Iterator[str]:
    """Each state that the page can be in."""
    phone.page.wait_for_selector("#caution")
    yield "first"
    phone.page.click("#job")
    phone.page.click("#jobs summary")
    yield "jobs"
    phone.page.click("#new-job button[type=submit]")
    phone.record(20)
    yield "recording"
    phone.stop()
    phone.photograph(PHOTOS[0])
    phone.page.wait_for_selector("#facts li", timeout=SENT_MS)
    phone.wait_sent(2)
    phone.until("document.getElementById('sending').textContent === 'All sent'")
    yield "after"
    phone.page.evaluate("document.querySelector('#kept').open = true")
    phone.page.evaluate(
        "for (const id of ['notice', 'room', 'pair', 'offline']) document.getElementById(id).hidden = false"
    )
    yield "warned"


TARGETS = """
() => [...document.querySelectorAll("button, a, summary, input")]
  .filter((one) => one.checkVisibility() && !one.closest("[inert]"))
  .map((one) => ({id: one.id || one.textContent.trim(), box: one.getBoundingClientRect().toJSON()}))
"""


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "desk"])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_every_view_is_accessible_and_can_be_hit_with_gloves(
    paired: Callable[..., Phone], size: dict[str, int], scheme: str
) -> None:
    axe = pytest.importorskip("axe_playwright_python.sync_playwright").Axe()
    phone = paired(viewport=size, color_scheme=scheme, device_scale_factor=2, reduced_motion="reduce")
    shots = os.environ.get("JOBNOTES_SHOTS")
    for view in views(phone):
        found = axe.run(phone.page)
        assert found.violations_count == 0, f"{view}: {found.generate_report()}"
        for target in phone.page.evaluate(TARGETS):
            assert min(target["box"]["width"], target["box"]["height"]) >= 48, (view, target)
        wide = phone.page.evaluate("document.documentElement.scrollWidth - innerWidth")
        assert wide <= 0, view
        main = phone.page.locator("#record").bounding_box()
        assert min(main["width"], main["height"]) >= 160
        if size is PHONE:
            assert main["width"] * main["height"] > 0.5 * PHONE["width"] * PHONE["height"] / 2, (
                "of the lower half"
            )
        if shots and view != "warned":
            name = f"capture-{view}-{scheme}{'' if size is PHONE else '-desk'}.png"
            phone.page.screenshot(path=Path(shots) / name)


def test_the_page_keeps_the_screen_on_only_while_it_records(paired: Callable[..., Phone]) -> None:
    watched = """
    window.lock = null;
    Object.defineProperty(navigator, "wakeLock", {value: {request: async () => (window.lock = {
      released: false, async release() { this.released = true; }})}});
    """
    phone = paired(watched)
    phone.new_job()
    assert phone.page.evaluate("window.lock") is None
    phone.record(1)
    assert phone.page.evaluate("window.lock.released") is False
    # the system takes it when the page is out of sight
    phone.page.evaluate("window.lock.released = true; document.dispatchEvent(new Event('visibilitychange'))")
    phone.until("window.lock.released === false")
    phone.stop()
    assert phone.page.evaluate("window.lock.released") is True
