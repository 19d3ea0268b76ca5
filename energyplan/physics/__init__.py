"""The physics of a brew day: floats and arrays in, floats and arrays out; no plan, no money."""
