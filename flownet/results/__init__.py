"""Results: tables, one solution, many as arrays, its air as it goes, its limits."""
