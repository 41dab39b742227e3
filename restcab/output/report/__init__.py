"""The report: one HTML file that says, shows and proves what a truck needs."""
