"""How likely the limits hold when every input is off by its tolerance."""
