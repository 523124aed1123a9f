"""How far a job card may be tilted, blurred and small in a photo before its code can't be read any more.

    python tests/bench/job_card_reading.py [--cards 20]

draws live cards of different jobs and seconds, photographs each (synthetically: perspective, Gaussian blur,
noise; 2000 by 1500 pixels, the size at which photos are looked at for codes) and prints the share that is
read, for each tilt and each blur. The radius of the blur is told in modules of the code too: that counts.
Nothing that is read may say anything else than what was drawn.
"""

from __future__ import annotations

import argparse
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

sys.path.append(str(Path(__file__).parents[1] / "linking"))
from card_photos import card, codes_in, drawn, photographed

from jobnotes.documents.job_card import code
from jobnotes.reading.job.job_card import text_of

SIZE = (2000, 1500)
FILLS = (0.8, 0.5, 0.25, 0.15)
TILTS = (0, 20, 40, 55, 65)
BLURS = (0.0, 2.0, 4.0, 6.0, 9.0)
START = datetime(2031, 4, 7, 8, 0, tzinfo=UTC)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cards", type=int, default=20)
    count = parser.parse_args().cards
    cards = [
        card(START + timedelta(seconds=1009 * n), f"{4417 + 37 * n}", registration="QQ00 TST")
        for n in range(count)
    ]
    modules = code(cards[0]).symbol_size(border=4)[0]
    wrong = 0
    for fills in FILLS:
        module = SIZE[1] * fills / modules
        print(f"code fills {fills:.0%} of the height, {module:.1f} pixels a module")
        print("  tilt  " + "".join(f"{f'blur {b:g} px ({b / module:.1f} mod)':>24}" for b in BLURS))
        for tilt in TILTS:
            shares = []
            for blur in BLURS:
                read = 0
                for one in cards:
                    image = photographed(drawn(one), fills=fills, tilt=tilt, blur=blur, size=SIZE)
                    said = [text.text for text in codes_in(image)]
                    read += text_of(one) in said
                    wrong += sum(text != text_of(one) for text in said)
                shares.append(read / count)
            print(f"  {tilt:3d}°  " + "".join(f"{share:>24.0%}" for share in shares), flush=True)
    print(f"{wrong} codes were read as something else")


if __name__ == "__main__":
    main()
