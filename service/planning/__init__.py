"""What is ahead of wheels: when to wrap, move and eat, and which fit together."""
