"""What carries notices out and texts in: one small protocol, one folder a gateway."""
