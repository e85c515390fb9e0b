"""Screens for the technician, the foundry engineer and the muller operator; the only place with Textual."""
