"""What leaves the office: the review page, and the sheet for fitting and commissioning."""
