"""Weather: hourly files, logs, design days and chambers, and the sun on tilted planes."""
