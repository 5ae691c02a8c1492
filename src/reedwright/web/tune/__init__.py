"""The tune page: editing, playing, choosing note by note; and the music stand."""
