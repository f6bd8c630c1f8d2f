"""Verification: how good chances told beforehand were, against what came, and how sure that is."""
