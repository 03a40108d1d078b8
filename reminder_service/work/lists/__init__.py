"""Lists of farmers and plots that come in as files, and tables that go out as files."""
