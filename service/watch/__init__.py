"""The watch: turns stored readings into alarms, and alarms into notices."""
