"""The record of a test, kept: SQLite or PostgreSQL behind one interface."""
