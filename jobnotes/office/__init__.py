"""What the office states, in files that it keeps: of the workshop, of prices and times, and of one job."""
