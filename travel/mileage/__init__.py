"""Mileage: which miles a district pays, at which rate, by which rule."""
