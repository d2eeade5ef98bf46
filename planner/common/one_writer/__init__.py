"""A database engine for Django: PostgreSQL with one writing transaction at a time, as SQLite has it."""
