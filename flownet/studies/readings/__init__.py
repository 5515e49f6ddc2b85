"""What was measured, held against what is predicted: deviations, their causes, and fits."""
