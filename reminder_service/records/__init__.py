"""Tables, migrations, and the few modules that hold every statement."""

# Tables in modules of their own join the metadata when they are imported.
from reminder_service.records import broadcast_tables as broadcast_tables
from reminder_service.records import list_tables as list_tables
from reminder_service.records import open_tables as open_tables
from reminder_service.records import rain_tables as rain_tables
from reminder_service.records import retention as retention
from reminder_service.records import weather_tables as weather_tables
