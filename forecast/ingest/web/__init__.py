"""The one door to the network: downloads with limits, last good copies, refused addresses."""
