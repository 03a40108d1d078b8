"""The console: texts are printed, and typed."""
