"""No test asserts a time: a busy machine must not fail a property that holds."""

from hypothesis import settings

settings.register_profile("no deadline", deadline=None)
settings.load_profile("no deadline")
