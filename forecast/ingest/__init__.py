"""Weather coming in: sources, one file each, and the store."""
