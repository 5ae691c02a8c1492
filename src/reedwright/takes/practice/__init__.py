"""Practice tracks: a player's own recording trimmed, levelled, slowed down, cut by parts and bars.

Public: `tracks.write_tracks`, `settings.PracticeSettings`, `times.track_times`.
"""
