"""Alembic's migrations of the store's tables."""
