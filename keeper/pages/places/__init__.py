"""Rooms, racks and tubs: who is where."""
