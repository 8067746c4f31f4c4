"""Alembic runs this. The app hands over an open connection; a developer's command line hands over none."""

from alembic import context
from sqlalchemy import Connection, create_engine

from webapp.store.tables import Base


def run(connection: Connection) -> None:
    context.configure(
        connection=connection,
        target_metadata=Base.metadata,
        render_as_batch=True,
        transactional_ddl=True,
        compare_type=True,
    )
    with context.begin_transaction():
        context.run_migrations()


given = context.config.attributes.get("connection")
if given is not None:
    run(given)
else:
    with create_engine(context.config.get_main_option("sqlalchemy.url", "sqlite://")).begin() as own:
        run(own)
