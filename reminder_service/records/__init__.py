"""Tables, migrations, and the few modules that hold every statement."""

# The rain book's tables must stand in the metadata whoever asks for it first.
from reminder_service.records import rain_tables as rain_tables
