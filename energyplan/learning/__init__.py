"""The brewery's own numbers, from logs, meters and readings."""
