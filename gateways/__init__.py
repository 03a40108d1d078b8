"""What carries notices out and texts in: one small protocol, one module a gateway."""
