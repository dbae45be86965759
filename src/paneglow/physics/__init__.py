"""Pure functions of the physics, a topic per file."""
