"""Fluid properties: the only door to CoolProp and thermo."""
