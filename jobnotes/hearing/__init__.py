"""Hearing: sound becomes words with times and confidence. docs/hearing.md tells what was measured."""

from jobnotes.hearing.choose import models_there, recogniser
from jobnotes.hearing.recogniser import RATE_HZ, Progress, Recogniser, Samples

__all__ = ["RATE_HZ", "Progress", "Recogniser", "Samples", "models_there", "recogniser"]
