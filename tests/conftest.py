"""Settings of every test: hypothesis has no deadline, since no test here is a timed one."""

from hypothesis import settings

settings.register_profile("untimed", deadline=None)
settings.load_profile("untimed")
