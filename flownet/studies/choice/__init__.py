"""The best of what `[choice]` leaves open, every limit kept in every scenario."""
