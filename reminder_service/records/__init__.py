"""Tables, migrations, and the few modules that hold every statement."""
