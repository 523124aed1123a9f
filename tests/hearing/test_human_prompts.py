"""Word error rate on recorded human speech with published texts: see human_prompts.py for the source."""

from __future__ import annotations

import jiwer
import pytest
from human_prompts import installed, plain, prompts

from jobnotes.hearing import recogniser

pytestmark = [pytest.mark.speech, pytest.mark.slow]

AT_MOST = 0.037  # the whisper model tiny.en on the same prompts, as its library calls it


@pytest.mark.skipif(not installed(), reason="asterisk-core-sounds-en and …-g722 are not installed")
@pytest.mark.parametrize("name", ["tiny.en", "quick"])
def test_of_human_speech_no_more_is_misheard_than_before_the_trade_was_learnt(name):
    engine = recogniser(name)
    said, heard = [], []
    for prompt in prompts():
        said.append(plain(prompt.text))
        heard.append(plain(" ".join(word.text for word in engine.hear(prompt.samples()))))
    assert len(said) > 240
    rate = jiwer.wer(said, heard)
    print(f"\n{len(said)} prompts: word error rate {rate:.2%}")
    assert rate <= AT_MOST
