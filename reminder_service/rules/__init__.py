"""The rules engine: facts of a plot and a rulebook give its dated tasks and their notices."""
