"""People, their invitations and signing in. Knows nothing of lines and meetings."""
