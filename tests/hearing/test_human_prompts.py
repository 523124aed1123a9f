"""Word error rate on recorded human speech with published texts: see human_prompts.py for the source."""

from __future__ import annotations

import jiwer
import pytest
from human_prompts import installed, plain, prompts

from jobnotes.hearing import recogniser

pytestmark = [pytest.mark.speech, pytest.mark.slow]

AS_IT_COMES = 0.037  # the whisper model tiny.en on the same prompts, as its library calls it


@pytest.mark.skipif(not installed(), reason="asterisk-core-sounds-en and …-g722 are not installed")
def test_the_default_recogniser_mishears_human_speech_no_more_than_its_model_as_it_comes():
    engine = recogniser()
    said, heard = [], []
    for prompt in prompts():
        said.append(plain(prompt.text))
        heard.append(plain(" ".join(word.text for word in engine.hear(prompt.samples()))))
    assert len(said) > 240
    rate = jiwer.wer(said, heard)
    print(f"\n{len(said)} prompts: word error rate {rate:.2%}")
    assert rate <= AS_IT_COMES
