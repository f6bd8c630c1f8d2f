"""From chances to acts: label, cover, need, answer, quantity."""
