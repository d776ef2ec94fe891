"""Thermodynamics and release physics of liquefied gases."""
