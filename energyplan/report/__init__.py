"""Results made readable: tables, charts, terminal, sheets."""
