"""What a telling looks like: terminal, JSON, data frames, sheets, calendar."""
