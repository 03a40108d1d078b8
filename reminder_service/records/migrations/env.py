"""Run the migrations on the connection that `reminder_service.records.engine` hands over.

They name every constraint themselves, so they are told nothing of today's tables.
"""

from alembic import context

context.configure(connection=context.config.attributes["connection"])
with context.begin_transaction():
    context.run_migrations()
