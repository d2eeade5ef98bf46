"""The test suite. Where a test says nothing else, hypothesis tries thirty examples and never looks at the clock.

`--hypothesis-profile=thorough` tries ten times as many.
"""

from hypothesis import settings

settings.register_profile("notchbook", max_examples=30, deadline=None)
settings.register_profile("thorough", max_examples=300, deadline=None)
settings.load_profile("notchbook")
