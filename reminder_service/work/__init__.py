"""The use cases: receive a text, re-plan, dispatch, act by hand, and the scheduler's ticks."""
