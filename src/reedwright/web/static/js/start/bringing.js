// Tunes brought in: files chosen, a folder, things dropped on the page, ABC pasted.
