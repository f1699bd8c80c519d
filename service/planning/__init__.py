"""What is ahead of wheels: stored facts handed to the planner's rules."""
