"""iCalendar: what is read from people's own calendars."""
