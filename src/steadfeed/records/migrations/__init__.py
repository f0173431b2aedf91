"""Alembic migrations, shipped with the package. Each is one transaction; a released one is never edited."""
