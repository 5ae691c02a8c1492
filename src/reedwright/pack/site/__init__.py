"""A book as a folder of web pages with sound, to be put on any web server as it is.

`making.make_site` writes it. docs/site.md tells it to users.
"""
