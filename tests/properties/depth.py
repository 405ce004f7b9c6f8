"""How hard a property is searched: a little in every run, more with --hypothesis-profile=long."""

from hypothesis import HealthCheck, settings


def depth(fast: int, long: int) -> settings:
    """Return settings by profile."""
    is_long = settings.get_current_profile_name() == "long"
    return settings(
        max_examples=long if is_long else fast,
        deadline=None,
        suppress_health_check=[HealthCheck.too_slow, HealthCheck.function_scoped_fixture],
    )
