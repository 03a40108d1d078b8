"""How long a login waits after wrong passwords."""

from datetime import timedelta

from reminder_service.web.login import FREE_TRIES, wait_after


def test_waits_never_shrink_and_have_an_end():
    waits = [wait_after(failed) for failed in range(60)]
    assert waits == sorted(waits)
    assert waits[FREE_TRIES] == timedelta(0) and waits[-1] == timedelta(minutes=15)
