"""How runs stand: the one place that judges margins and says what makes them void."""
