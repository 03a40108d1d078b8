"""One carrier over SMPP 3.4."""
