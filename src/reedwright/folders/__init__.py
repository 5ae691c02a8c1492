"""Finished folders: how packs and takes are named, listed, zipped and put in their place.

A folder is built aside and moved into place whole; what was there stays until then. Public:
`names.file_name`, `placing.built_aside`, `manifest.manifest`, `zipping.zip_folder`.
"""
