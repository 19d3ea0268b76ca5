"""The plan: its models, its file, its rules."""
