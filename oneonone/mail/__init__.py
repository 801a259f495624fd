"""The mail face: what a mail says, and how it is handed to a server."""
