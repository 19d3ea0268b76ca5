"""What all tests share: hypothesis profiles."""

import os

from hypothesis import HealthCheck, settings

settings.register_profile("default", deadline=None, max_examples=50, suppress_health_check=[HealthCheck.too_slow])
settings.register_profile("ci", parent=settings.get_profile("default"), max_examples=100, derandomize=True)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "default"))
