"""Property tests run without a time limit and repeat exactly: a busy machine is no failure."""

from hypothesis import settings

settings.register_profile("steady", deadline=None, derandomize=True)
settings.load_profile("steady")
