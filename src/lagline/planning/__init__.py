"""The chain: intake, settings, layout, cuts, order, timetable, verdict; one pure stage per module."""
