"""The whole house on one machine with an invented household, for a first look."""
