"""Help pages that come with the program: ``energyplan explain TOPIC`` prints them."""
