"""The closed-loop bench: controllers of the sand against simulated plants."""
