"""Forms validate and convert; they never save. What was typed survives every refusal."""
