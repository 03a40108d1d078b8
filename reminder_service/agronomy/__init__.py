"""Facts of the field as pure functions, each with the source of its figures beside it."""
