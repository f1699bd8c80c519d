"""Looking back: what wheels lived through before something was seen, from stored facts."""
