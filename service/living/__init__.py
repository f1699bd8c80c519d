"""What wheels live through, worked out from stored facts: surface, sweat, weight, age."""
