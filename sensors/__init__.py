"""What happens at the end of the wire: payloads, a simulated cave, replay."""
