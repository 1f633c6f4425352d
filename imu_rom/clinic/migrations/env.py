"""What Alembic runs: the migrations, on the connection and in the transaction that ``database.migrate`` began."""

from alembic import context

from imu_rom.clinic.schema import metadata

context.configure(connection=context.config.attributes["connection"], target_metadata=metadata, transactional_ddl=True)
context.run_migrations()
