"""Benches: how fast a part of the service is beside the bare limit of the same run."""
