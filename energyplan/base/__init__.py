"""What everybody may use: units, load profiles, errors, constants, files."""
