"""What is heard in a recording: pitch frame by frame, notes with their onsets.

`hear` listens to a recording in one go, block by block, and gives a `Heard`. Times are in
seconds from the start of the recording, pitches in Hz, levels in dB of full scale.
"""
