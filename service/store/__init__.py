"""The only room that knows SQL: tables, migrations and queries."""
