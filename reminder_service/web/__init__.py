"""The coordinator's pages: server-rendered, light, usable without script."""
