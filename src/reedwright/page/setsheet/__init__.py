"""The sheet for an evening of sets: harps in order, and how each tune begins, with tab.

`sheet.set_sheet_pdf` makes it of a `reedwright.tab.sets.model.Evening`.
"""
