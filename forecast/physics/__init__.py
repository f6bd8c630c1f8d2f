"""One equation a function, on bare arrays."""
