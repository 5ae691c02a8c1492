"""What each reed is to sound, to the hundredth of a cent: temperament, pitch, pressure, stretch."""
