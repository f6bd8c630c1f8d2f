"""A logger's own files: how they are to be read, read, and a proposal how."""
