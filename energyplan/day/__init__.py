"""Plan to brew day: what happens in the vessel, when, and what it draws."""
