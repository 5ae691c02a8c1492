"""The command line: one file a command, no logic. A door to the same functions as the library.

Exit status: 0 all went well, 1 something in the input was at fault, 2 wrong usage.
"""
