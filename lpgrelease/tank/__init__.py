"""Tanks: shapes, contents and their history while they vent, leak and take up heat."""
