"""Live at the hitch: rope by rope through a microphone, into the record."""
