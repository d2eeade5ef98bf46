"""The test suite. Where a test says nothing else, hypothesis tries forty examples and never looks at the clock."""

from hypothesis import settings

settings.register_profile("notchbook", max_examples=40, deadline=None)
settings.load_profile("notchbook")
