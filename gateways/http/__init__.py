"""A carrier with an HTTP interface, described by a declarative profile."""
